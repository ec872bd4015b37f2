"""Runs the theme's scripts outside of a browser."""

from __future__ import annotations

import json
import subprocess
from typing import Any

from tests.support.command import ROOT

SCRIPTS = ROOT / "themes" / "notebook" / "static" / "js"


def script(name: str) -> str:
    """Return the expression that loads a script of the theme."""
    return f"require({json.dumps(str(SCRIPTS / name))})"


def by_script(code: str, given: object) -> Any:  # noqa: ANN401 - whatever the script answers
    """Run an expression with `given` and return its value."""
    program = f"const given = JSON.parse(require('fs').readFileSync(0)); console.log(JSON.stringify({code}))"
    told = subprocess.run(
        ["node", "-e", program], input=json.dumps(given), capture_output=True, text=True, check=True, timeout=120
    )
    return json.loads(told.stdout)
