"""Verdicts on a difference as sentences."""

from __future__ import annotations

from dataclasses import replace

from builder.figures import FIGURES
from builder.quantity import Estimate, format_estimate

# What is said of a result whose figure is lower, and of one whose figure is higher.
_COOLER = ("cooler", "warmer")
_WORDS = {
    "K": _COOLER,
    "degC": _COOLER,
    "dBA": ("quieter", "louder"),
    "rpm": ("slower", "faster"),
    "1/s": ("slower", "faster"),
}
_BY_KIND = {"hotspot_gap": ("smaller", "larger")}


def told_apart(kind: str, difference: Estimate, a: str, b: str) -> str:
    """Return a sentence that names the better result first, or the higher one where neither is better.

    >>> told_apart("core_rise", Estimate(value=2.1, u=0.3, unit="K"), "A", "B").replace(chr(0xA0), " ")
    'B is 2.1 ± 0.6 K cooler than A.'
    """
    lower_first = FIGURES[kind].better == "lower"
    first_is_a = (difference.value < 0) == lower_first
    first, second = (a, b) if first_is_a else (b, a)
    word = direction_words(kind)[0 if lower_first else 1]
    size = replace(difference, value=abs(difference.value))
    return f"{first} is {format_estimate(size)} {word} than {second}."


def direction_words(kind: str) -> tuple[str, str]:
    """Return what is said of a result whose figure is lower, and of one whose figure is higher.

    >>> direction_words("sound_level")
    ('quieter', 'louder')
    """
    return _BY_KIND.get(kind) or _WORDS.get(FIGURES[kind].unit, ("lower", "higher"))


def too_close(difference: Estimate, pairs: int) -> str:
    """Return a sentence for a difference that could not be told from none, among so many pairs judged together.

    >>> too_close(Estimate(value=0.2, u=0.3, unit="K"), 1).replace(chr(0xA0), " ")
    'Too close to call: 0.2 ± 0.6 K.'
    """
    size = replace(difference, value=abs(difference.value))
    text = f"Too close to call: {format_estimate(size)}"
    if abs(difference.value) <= difference.expanded():
        return f"{text}."
    return f"{text}, which may be luck among the {pairs} pairs judged here."
