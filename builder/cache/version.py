"""What the program itself is: its code and the libraries that figures and pages come out of."""

from __future__ import annotations

import hashlib
import sys
from functools import cache
from importlib import metadata
from pathlib import Path

LIBRARIES = (
    *("altair", "chemicals", "CoolProp", "jinja2", "markdown-it-py", "numpy", "pandas", "pillow", "pint", "pydantic"),
    *("pyyaml", "scipy", "vl-convert-python"),
)


@cache
def program_version() -> str:
    """Return a digest of this package's code, the libraries' versions and Python's, read once in a process."""
    package = Path(__file__).resolve().parent.parent
    state = hashlib.sha256(sys.version.encode())
    for name in LIBRARIES:
        state.update(f"{name} {_version(name)}\n".encode())
    for path in sorted(package.rglob("*.py")):
        state.update(f"{path.relative_to(package).as_posix()} ".encode())
        state.update(hashlib.sha256(path.read_bytes()).digest())
    return state.hexdigest()


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "none"
