"""A new site or kit is written beside the old one and takes its place only when it is whole."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from builder.core.errors import Problem, SoakbookError, Span
from builder.core.writing import whole_folder

MARKER = "site.json"


@dataclass(frozen=True, kw_only=True)
class Output:
    """What a folder holds: every such folder has the marker in it, and only a folder with it is ever replaced."""

    marker: str
    code: str
    name: str
    says: bytes = b""  # what the marker holds, where its name alone is too common


SITE = Output(marker=MARKER, code="target-not-a-site", name="a published site")
KIT = Output(marker="manifest.json", code="target-not-a-kit", name="an episode kit", says=b'"kind": "episode kit"')


@dataclass(frozen=True, kw_only=True)
class Staged:
    """A folder to write the new files into."""

    folder: Path

    def write(self, relative: str, data: bytes) -> None:
        """Write one file; raises ValueError for a path that leaves the folder."""
        target = self.folder / relative
        if ".." in Path(relative).parts or Path(relative).is_absolute():
            raise ValueError(f"{relative} leaves the folder")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


@contextmanager
def staged_output(out: Path, output: Output = SITE) -> Iterator[Staged]:
    """Yield a folder for the new site or kit and swap it into `out` when the block ends without an exception.

    On any exception the old one stays as it was and the half-made one is removed. Raises SoakbookError where `out`
    holds something that is not such an output of this program.
    """
    check_target(out, output)
    with whole_folder(out, replace=True) as folder:
        yield Staged(folder=folder)
        if not _is_marked(folder, output):
            raise ValueError(f"{output.name} without {output.marker} is not whole")
        # Permissions that any web server can read, whatever the umask was.
        for path in [folder, *folder.rglob("*")]:
            path.chmod(0o755 if path.is_dir() else 0o644)


def check_target(out: Path, output: Output = SITE) -> None:
    """Raise SoakbookError where writing into `out` would replace something that is not such an output."""
    if not out.exists() and not out.is_symlink():
        return
    if out.is_symlink() or not out.is_dir():
        raise SoakbookError([_refusal(out, output, "is not a folder")])
    if any(out.iterdir()) and not _is_marked(out, output):
        raise SoakbookError([_refusal(out, output, f"holds files that are not {output.name}")])


def _is_marked(folder: Path, output: Output) -> bool:
    marker = folder / output.marker
    return marker.is_file() and output.says in marker.read_bytes()


def _refusal(out: Path, output: Output, why: str) -> Problem:
    return Problem(
        code=output.code,
        where=Span(file=out.name),
        message=f"{why}, so it is left alone",
        hint="choose another folder with --out, or move what is there",
    )
