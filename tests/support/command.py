"""The `soakbook` command as a process of its own."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
import termios
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


def in_terminal(columns: int, *arguments: str | Path) -> str:
    """Run the command in a terminal so many characters wide and return what stands there, without colours."""
    master, slave = pty.openpty()
    termios.tcsetwinsize(slave, (24, columns))
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
    command = [sys.executable, "-c", START, *(str(a) for a in arguments)]
    with subprocess.Popen(
        command, env={**environment, "PYTHONPATH": str(ROOT), "TERM": "xterm"}, stdin=slave, stdout=slave
    ) as running:
        os.close(slave)
        said = b"".join(iter(lambda: _piece(master), b""))
    os.close(master)
    assert running.returncode == 0
    return re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", said.decode()).replace("\r\n", "\n")


def _piece(terminal: int) -> bytes:
    try:
        return os.read(terminal, 4096)
    except OSError:  # Linux ends a terminal whose other side is closed in this way
        return b""
