"""Folders that take long to make, made once for all processes of a test run."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest


def folder_made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """The folder that `make` fills; the first process that asks makes it, the others wait for it."""
    own = factory.getbasetemp()
    common = own.parent if os.environ.get("PYTEST_XDIST_WORKER") else own
    folder, done = common / name, common / f"{name}.done"
    with (common / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            make(folder)
            done.touch()
    return folder
