"""Figures -> chart specifications, with the same numbers as tables and the finding in words."""
