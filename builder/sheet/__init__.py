"""The run sheet of a session: what to have ready, what to do, when each run ends, and what to look out for."""

from builder.sheet.bundle_file import bundle_skeleton
from builder.sheet.sheet_contents import Session, SheetPlan, sheet_plan
from builder.sheet.steps import Assembly, PadFit, assembly_from, gap_range, pad_fit

__all__ = [
    "Assembly",
    "PadFit",
    "Session",
    "SheetPlan",
    "assembly_from",
    "bundle_skeleton",
    "gap_range",
    "pad_fit",
    "sheet_plan",
]
