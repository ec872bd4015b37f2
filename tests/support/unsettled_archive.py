"""An archive on disk whose stock runs had not settled: too short, drifting, undecided, and one that had."""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np

from builder.core.quantity import FloatArray

_FILES = {
    "archive.yaml": "channel: Cold Lantern\nbase_url: https://lantern.example/\n",
    "cards/orrery.yaml": "name: Orrery\nboard_power_w: 285\npower_limit_pct: {min: 50, max: 110}\n",
    "benches/open.yaml": """\
        name: Open frame
        sensors:
          - {quantity: core_temperature, accuracy: 1.0, resolution: 0.1}
          - {quantity: board_power, accuracy_pct: 1.0}
        readers:
          - id: plain
            match: [t, core, board]
            time: {column: t, kind: elapsed, unit: s}
            columns:
              core: {quantity: core_temperature, unit: degC}
              board: {quantity: board_power, unit: W}
        """,
}
_BUNDLE = """\
    card: orrery
    cooler: {cooler}
    bench: open
    protocol: brief-5
    tested: 2026-04-18
    mounts:
      - runs:
          - {{point: stock, log: stock.csv, ambient_c: 22.0}}
    """
SHORT, DRIFTING, UNDECIDED, SETTLED = "short", "drifting", "undecided", "settled"
REST_K = 238.94  # of the drifting run: the curve of a slow heat path that was left early
TAU_S = 1818.0
LENGTH_S = 900


def rises() -> dict[str, FloatArray]:
    """Return the rise over ambient in K of each run by its bundle, one value a second."""
    whole, early = np.arange(float(LENGTH_S)), np.arange(390.0)
    wave = 0.9 * np.sin(2 * np.pi * whole / 700)
    return {
        SHORT: 46.9 - 20 * np.exp(-early / 90),
        DRIFTING: REST_K * (1 - np.exp(-whole / TAU_S)),
        UNDECIDED: 34 - 20 * np.exp(-whole / 90) + wave,
        SETTLED: 33 - 20 * np.exp(-whole / 60),
    }


def unsettled_archive(root: Path) -> Path:
    """Write the archive and return its folder."""
    rng = np.random.default_rng(20260418)
    for file, text in _FILES.items():
        _write(root / file, textwrap.dedent(text))
    for name, rise in rises().items():
        _write(root / f"coolers/{name}.yaml", f"name: Fenwick {name.capitalize()}\nkind: air\n")
        _write(root / f"bundles/{name}/bundle.yaml", textwrap.dedent(_BUNDLE.format(cooler=name)))
        core = np.round(22 + rise + rng.normal(0, 0.1, rise.size), 1)
        watts = np.round(280 + rng.normal(0, 2.0, rise.size), 1)
        rows = (f"{t},{c},{w}" for t, (c, w) in enumerate(zip(core, watts, strict=True)))
        _write(root / f"bundles/{name}/stock.csv", "\n".join(["t,core,board", *rows]) + "\n")
    return root


def _write(file: Path, text: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
