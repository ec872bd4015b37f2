"""Reads the words that pages are made from: Markdown pages, notes and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import yaml

from builder.archive.safety_cautions import Caution, cautions_from
from builder.core.errors import Problem, Problems, Span
from builder.core.files import read_bytes


@dataclass(frozen=True, kw_only=True)
class Words:
    """Markdown by page name and by bundle, the cautions, and what was wrong with the files."""

    pages: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[Caution, ...] = ()
    problems: tuple[Problem, ...] = ()


def read_words(root: Path, content: Path, bundles: Iterable[str]) -> Words:
    """Return the words of an archive; its own pages replace those of the same name that come with the program."""
    problems = Problems()
    given = {path.stem: path.read_text(encoding="utf-8") for path in sorted((content / "pages").glob("*.md"))}
    given["methodology"] = "\n\n".join([given.get("methodology", ""), *_studies(content)])
    own = {path.stem: f"pages/{path.name}" for path in sorted((root / "pages").glob("*.md"))}
    notes = {b: f"bundles/{b}/notes.md" for b in bundles if (root / "bundles" / b / "notes.md").is_file()}
    return Words(
        pages={**given, **_texts(root, own, problems)},
        notes=_texts(root, notes, problems),
        cautions=_cautions(content / "cautions.yaml"),
        problems=tuple(problems),
    )


_STUDIES = {"claims": "How often a claim is false", "settling": "How well the settling rule does"}


def _studies(content: Path) -> list[str]:
    """Return the tables that say how well the method does, each below its heading, as they came from their commands."""
    texts = {path.stem: path.read_text(encoding="utf-8") for path in (content / "studies").glob("*.md")}
    return [f"## {heading}\n\n{texts[name]}" for name, heading in _STUDIES.items() if name in texts]


def _texts(root: Path, files: Mapping[str, str], problems: Problems) -> dict[str, str]:
    found = {}
    for name, relative in files.items():
        data = read_bytes(root, relative, problems, Span(file=relative))
        if data is not None:
            found[name] = _decoded(data, relative, problems)
    return found


def _decoded(data: bytes, relative: str, problems: Problems) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        problems.error("not-utf-8", Span(file=relative, line=line), "this is not UTF-8 text", "save the file as UTF-8")
        return ""


def _cautions(path: Path) -> tuple[Caution, ...]:
    return _parsed_cautions(path.read_text(encoding="utf-8")) if path.is_file() else ()


@lru_cache(maxsize=4)
def _parsed_cautions(text: str) -> tuple[Caution, ...]:
    return cautions_from(yaml.safe_load(text))
