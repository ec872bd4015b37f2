"""The `soakbook` command as a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "site_demo"
START = "from builder.cli import main; main()"


def soakbook(
    *arguments: str | Path, environment: Mapping[str, str] | None = None, umask: int = 0o022, cwd: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """Run the checkout's command and return its exit code and streams."""
    return subprocess.run(
        [sys.executable, "-c", START, *(str(a) for a in arguments)],
        env={**os.environ, "PYTHONPATH": str(ROOT), **(environment or {})},
        umask=umask,
        cwd=cwd,
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=600,
    )


def must(*arguments: str | Path, environment: Mapping[str, str] | None = None, umask: int = 0o022) -> str:
    """Run the command, which must succeed, and return its standard output."""
    done = soakbook(*arguments, environment=environment, umask=umask)
    assert done.returncode == 0, f"soakbook {' '.join(map(str, arguments))}\n{done.stdout}\n{done.stderr}"
    return done.stdout
