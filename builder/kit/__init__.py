"""The episode kit: stills, cards, spoken lines, and texts for the description and the captions of a video."""

from builder.kit.kit import SIZES, KitInput, KitPlan, kit_plan

__all__ = ["SIZES", "KitInput", "KitPlan", "kit_plan"]
