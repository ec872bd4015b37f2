"""Reads scripts and notes, and checks what they say against the figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.compare import Tested
from builder.errors import Problem, Problems, Severity, Span
from builder.sources import list_folder, read_bytes
from builder.speech import CheckedWords, Unlinked, Words, check_words

SCRIPT, NOTES = "script.md", "notes.md"


@dataclass(frozen=True, kw_only=True)
class Narration:
    """Scripts and notes by file, checked, and every problem found on the way."""

    checked: Mapping[str, CheckedWords]
    problems: tuple[Problem, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing found is an error."""
        return not any(p.severity is Severity.ERROR for p in self.problems)

    @property
    def unlinked(self) -> tuple[Unlinked, ...]:
        """Return every number with a unit that carries no link."""
        return tuple(number for words in self.checked.values() for number in words.unlinked)


def check_narration(
    root: Path, tested: Tested, *, names: Iterable[str] = (NOTES, SCRIPT), bundles: Iterable[str] | None = None
) -> Narration:
    """Return the words of bundles (all of them by default) checked against the archive's figures."""
    problems = Problems()
    chosen = sorted(tested.results if bundles is None else bundles)
    found = {words.file: check_words(words, tested) for words in _read(root, chosen, tuple(names), problems)}
    for checked in found.values():
        problems.extend(checked.problems)
    return Narration(checked=found, problems=tuple(problems))


def _read(root: Path, bundles: Iterable[str], names: Iterable[str], problems: Problems) -> Iterator[Words]:
    for bundle in bundles:
        there = {entry.name for entry in list_folder(root, f"bundles/{bundle}", problems) or ()}
        for name in (name for name in names if name in there):
            file = f"bundles/{bundle}/{name}"
            data = read_bytes(root, file, problems, Span(file=file))
            text = _decoded(data, file, problems) if data is not None else None
            if text is not None:
                yield Words(file=file, bundle=bundle, text=text)


def _decoded(data: bytes, file: str, problems: Problems) -> str | None:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        problems.error("not-utf-8", Span(file=file, line=line), "this is not UTF-8 text", "save the file as UTF-8")
        return None
