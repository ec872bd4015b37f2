"""Reads scripts, notes and the archive's own pages, and checks what they say against the figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from builder.comparison import Tested
from builder.core.errors import Problem, Problems, Span
from builder.core.files import list_folder, read_bytes
from builder.narration import UNCHECKED, CheckedWords, Unlinked, Words, check_words

SCRIPT, NOTES = "script.md", "notes.md"
PAGES = "pages"


@dataclass(frozen=True, kw_only=True)
class Narration:
    """Scripts, notes and pages by file, each with what was found in it, and every problem on the way."""

    checked: Mapping[str, CheckedWords]
    problems: tuple[Problem, ...]

    @property
    def unlinked(self) -> tuple[Unlinked, ...]:
        """Return every number with a unit that carries no link."""
        return tuple(number for words in self.checked.values() for number in words.unlinked)


def check_narration(
    root: Path, tested: Tested, *, names: Iterable[str] = (NOTES, SCRIPT), bundles: Iterable[str] | None = None
) -> Narration:
    """Return the words of bundles checked against the archive's figures; by default of all, and of its own pages."""
    problems = Problems()
    chosen = sorted(tested.results if bundles is None else bundles)
    checked = {words.file: check_words(words, tested) for words in _bundle_words(root, chosen, tuple(names), problems)}
    if bundles is None:
        checked |= {words.file: _links_only(check_words(words, tested)) for words in _page_words(root, problems)}
    for one in checked.values():
        problems.extend(one.problems)
    return Narration(checked=checked, problems=tuple(problems))


def _links_only(checked: CheckedWords) -> CheckedWords:
    """Pages say much that is no figure of a test, so that numbers without a link are no finding there."""
    problems = tuple(p for p in checked.problems if p.code != UNCHECKED)
    return replace(checked, problems=problems, unlinked=())


def _bundle_words(root: Path, bundles: Iterable[str], names: Iterable[str], problems: Problems) -> Iterator[Words]:
    for bundle in bundles:
        there = {entry.name for entry in list_folder(root, f"bundles/{bundle}", problems) or ()}
        for name in (name for name in names if name in there):
            yield from _read_words(root, f"bundles/{bundle}/{name}", bundle, problems)


def _page_words(root: Path, problems: Problems) -> Iterator[Words]:
    if not any(entry.name == PAGES and entry.is_folder for entry in list_folder(root, ".", problems) or ()):
        return
    for entry in list_folder(root, PAGES, problems) or ():
        if entry.name.endswith(".md"):
            yield from _read_words(root, f"{PAGES}/{entry.name}", "", problems)


def _read_words(root: Path, file: str, bundle: str, problems: Problems) -> Iterator[Words]:
    """Yield the words of a file, or nothing after reporting why it cannot be read."""
    data = read_bytes(root, file, problems, Span(file=file))
    if data is None:
        return
    try:
        yield Words(file=file, bundle=bundle, text=data.decode("utf-8-sig"))
    except UnicodeDecodeError as problem:
        where = Span(file=file, line=data[: problem.start].count(b"\n") + 1)
        problems.error("not-utf-8", where, "this is not UTF-8 text", "save the file as UTF-8")
