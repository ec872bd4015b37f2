"""What went wrong, where, and how to mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a problem matters: an error stops publication, the others do not."""

    ERROR = "error"
    WARNING = "warning"
    NOTICE = "notice"


@dataclass(frozen=True, kw_only=True, order=True)
class Span:
    """A place in the archive: path relative to the archive with forward slashes, line and column from 1."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        """Return `file:line:column`, less what is unknown (0)."""
        parts = [self.file, *(str(n) for n in (self.line, self.column) if n)]
        return ":".join(parts)


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One problem: a stable code, its place, what is wrong, and a hint that mends it."""

    code: str
    where: Span
    message: str
    hint: str = ""
    severity: Severity = Severity.ERROR

    def __str__(self) -> str:
        """Return the problem as the command line prints it."""
        head = f"{self.severity}[{self.code}] {self.where}: {self.message}"
        return f"{head}\nhint: {self.hint}" if self.hint else head


class Problems:
    """Collects problems, so that everything wrong is reported at once."""

    def __init__(self) -> None:
        self._items: dict[Problem, None] = {}

    def add(self, problem: Problem) -> None:
        """Keep one problem; an exact repetition is kept once."""
        self._items.setdefault(problem)

    def extend(self, problems: Iterable[Problem]) -> None:
        """Keep several problems."""
        for problem in problems:
            self.add(problem)

    def error(self, code: str, where: Span, message: str, hint: str = "") -> None:
        """Keep an error: the input cannot be used as it stands."""
        self.add(Problem(code=code, where=where, message=message, hint=hint))

    def warning(self, code: str, where: Span, message: str, hint: str = "") -> None:
        """Keep a warning: usable, but a figure may suffer."""
        self.add(Problem(code=code, where=where, message=message, hint=hint, severity=Severity.WARNING))

    def notice(self, code: str, where: Span, message: str, hint: str = "") -> None:
        """Keep a notice: worth knowing, nothing to mend."""
        self.add(Problem(code=code, where=where, message=message, hint=hint, severity=Severity.NOTICE))

    @property
    def has_errors(self) -> bool:
        """Whether any problem is an error."""
        return bool(errors_among(self._items))

    def __iter__(self) -> Iterator[Problem]:
        """Iterate sorted by file, line and column; errors first at one place."""
        rank = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTICE: 2}
        return iter(sorted(self._items, key=lambda p: (p.where, rank[p.severity], p.code, p.message)))

    def __len__(self) -> int:
        """Return how many problems there are."""
        return len(self._items)


def errors_among(problems: Iterable[Problem]) -> list[Problem]:
    """Return those of the problems that are errors."""
    return [p for p in problems if p.severity is Severity.ERROR]


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, str | int]]:
    """Return problems as JSON-ready rows, in the order given; an unknown line or column is 0, no hint is empty.

    >>> problem_rows([Problem(code="bad-id", where=Span(file="cards/X.yaml"), message="m")])[0]["severity"]
    'error'
    """
    return [
        {
            "code": p.code,
            "severity": p.severity.value,
            "file": p.where.file,
            "line": p.where.line,
            "column": p.where.column,
            "message": p.message,
            "hint": p.hint,
        }
        for p in problems
    ]


class SoakbookError(Exception):
    """Input that cannot be used; carries the problems that say why."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


def closest(word: str, choices: Iterable[str]) -> str:
    """Return the choice closest to `word`, or an empty text where none is close."""
    close = difflib.get_close_matches(word, list(choices), n=1, cutoff=0.6)
    return close[0] if close else ""


def nearest(word: str, choices: Iterable[str]) -> str:
    """Return `did you mean "x"?` for the choice closest to `word`, or an empty text.

    >>> nearest("stok", ["stock", "idle"])
    'did you mean "stock"?'
    """
    close = closest(word, choices)
    return f'did you mean "{close}"?' if close else ""
