"""From the plan to bytes: words and themes are read here, pages rendered."""

from builder.render.site import SiteRenderer, words_problems
from builder.render.theme import Renderer, Theme, open_theme, renderer, static_files
from builder.render.words import Words, read_words

__all__ = [
    "Renderer",
    "SiteRenderer",
    "Theme",
    "Words",
    "open_theme",
    "read_words",
    "renderer",
    "static_files",
    "words_problems",
]
