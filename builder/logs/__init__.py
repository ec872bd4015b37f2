"""Delimited logs -> columns in standard units, with a report of what was repaired."""

from builder.logs.decode import unpacked
from builder.logs.inspection import InspectedColumn, Inspection, InspectionRow, inspect_log, inspection_rows
from builder.logs.join import PlacedLog, card_log, join_logs, placed
from builder.logs.read import read_frames, read_log, slow_start_said
from builder.logs.types import FrameTable, LogColumn, LogTable, Repair, cut_log

__all__ = [
    "FrameTable",
    "InspectedColumn",
    "Inspection",
    "InspectionRow",
    "LogColumn",
    "LogTable",
    "PlacedLog",
    "Repair",
    "card_log",
    "cut_log",
    "inspect_log",
    "inspection_rows",
    "join_logs",
    "placed",
    "read_frames",
    "read_log",
    "slow_start_said",
    "unpacked",
]
