"""The episode kit: the plan of stills, cards, spoken lines and texts."""

from builder.kit.cards import Card, card_svg
from builder.kit.kit import COLUMNS, SIZES, Caption, KitInput, KitPlan, kit_plan

__all__ = ["COLUMNS", "SIZES", "Caption", "Card", "KitInput", "KitPlan", "card_svg", "kit_plan"]
