"""`soakbook start`: a new archive with one example bundle, copied from the content that ships with the program."""

from __future__ import annotations

import shutil
from pathlib import Path

from builder.commands.schema import write_schemas
from builder.core.errors import Problem, SoakbookError, Span
from builder.core.files import content_dir
from builder.core.writing import whole_folder


def start_archive(folder: Path) -> tuple[str, ...]:
    """Make an archive in `folder` and return the files made, relative to it.

    Raises SoakbookError where the folder exists and is not empty: nothing of the tester's is ever overwritten.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SoakbookError([_not_empty(folder)])
    with whole_folder(folder) as made:
        ignored = shutil.ignore_patterns("public", ".*")
        shutil.copytree(content_dir() / "starter", made, ignore=ignored, dirs_exist_ok=True)
        made.chmod(0o755)
        write_schemas(made)
        if folder.exists():
            folder.rmdir()
    return tuple(sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()))


def _not_empty(folder: Path) -> Problem:
    what = "holds files already" if folder.is_dir() else "is a file"
    return Problem(
        code="folder-not-empty",
        where=Span(file=folder.name or str(folder)),
        message=f"the folder {what}, and a new archive would mix with them",
        hint="name a folder that does not exist yet",
    )
