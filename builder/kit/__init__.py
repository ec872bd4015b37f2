"""The episode kit: the plan of stills, cards, spoken lines and texts."""
