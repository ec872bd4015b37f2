"""Figures in the words of scripts and notes: addresses, numbers as one speaks them, and whether they are true."""

from builder.speech.address import Address, is_figure_link, parse_address
from builder.speech.check import UNCHECKED, CheckedWords, Linked, Unlinked, Words, check_words
from builder.speech.claims import judge
from builder.speech.findings import Finding, suggestion
from builder.speech.markdown import FigureLink, Moment
from builder.speech.spoken import difference_decimals, in_words, listed, spoken, spoken_decimals
from builder.speech.truth import Answer, Apart, NoDifference, NotFound, Truth, look_up

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
    "in_words",
    "is_figure_link",
    "judge",
    "listed",
    "look_up",
    "parse_address",
    "spoken",
    "spoken_decimals",
    "suggestion",
]
