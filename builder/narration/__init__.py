"""Figures in the words of scripts and notes: addresses, numbers as one speaks them, and whether they are true."""

from builder.narration.claim_judging import Finding, judge, said_of, suggestion
from builder.narration.link_values import Answer, Apart, NoDifference, NotFound, Truth, look_up
from builder.narration.links import Address, FigureLink, Moment, is_figure_link, parse_address
from builder.narration.numbers import difference_decimals, spoken, spoken_decimals
from builder.narration.text_check import UNCHECKED, CheckedWords, Linked, Unlinked, Words, check_words

__all__ = [
    "UNCHECKED",
    "Address",
    "Answer",
    "Apart",
    "CheckedWords",
    "FigureLink",
    "Finding",
    "Linked",
    "Moment",
    "NoDifference",
    "NotFound",
    "Truth",
    "Unlinked",
    "Words",
    "check_words",
    "difference_decimals",
    "is_figure_link",
    "judge",
    "look_up",
    "parse_address",
    "said_of",
    "spoken",
    "spoken_decimals",
    "suggestion",
]
