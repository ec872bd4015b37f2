"""The episode kit: the plan of stills, cards, spoken lines and texts."""

from builder.kit.captions import COLUMNS, Caption
from builder.kit.cards import Card
from builder.kit.drawing import card_svg
from builder.kit.plan import SIZES, KitInput, KitPlan, kit_plan

__all__ = ["COLUMNS", "SIZES", "Caption", "Card", "KitInput", "KitPlan", "card_svg", "kit_plan"]
