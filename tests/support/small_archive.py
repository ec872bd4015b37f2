"""A small archive in a folder of its own, to be broken one part at a time."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from pathlib import Path

from builder.archive import Loaded, load_archive
from builder.core.errors import Problems

FILES = {
    "archive.yaml": "channel: Cold Lantern\n",
    "cards/orrery-780.yaml": """\
        name: Orrery 780
        board_power_w: 285
        power_limit_pct: {min: 50, max: 110}
        """,
    "coolers/fenwick-slab.yaml": """\
        name: Fenwick Slab
        kind: water block
        """,
    "benches/open-frame.yaml": """\
        name: Open frame
        readers:
          - id: plain
            match: [Time, Board]
            time: {column: Time}
            columns:
              Board: {quantity: board_power, unit: W}
        """,
    "bundles/slab-on-orrery/bundle.yaml": """\
        card: orrery-780
        cooler: fenwick-slab
        bench: open-frame
        protocol: soak
        tested: 2026-04-18
        mounts:
          - runs:
              - {point: idle, log: idle.csv}
              - {point: stock, log: stock.csv}
        """,
    "bundles/slab-on-orrery/idle.csv": "",
    "bundles/slab-on-orrery/stock.csv": "",
}
PROTOCOL = """\
    name: Soak
    version: 1
    air: {tau_s: 150, window_s: 300, soak_s: 600}
    liquid: {tau_s: 600, window_s: 600, soak_s: 1200}
    points:
      - {id: idle, name: Idle, role: idle}
      - {id: stock, name: Stock, role: stock}
      - {id: power-70, name: Power limit 70 %, role: power limit, power_limit_pct: 70}
    """


@dataclass(frozen=True, kw_only=True)
class Folder:
    """An archive on disk, and the default content beside it."""

    root: Path
    content: Path

    def write(self, file: str, text: str) -> None:
        path = self.root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(textwrap.dedent(text), encoding="utf-8")

    def edit(self, file: str, old: str, new: str) -> None:
        text = (self.root / file).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (self.root / file).write_text(text.replace(old, new), encoding="utf-8")

    def move(self, old: str, new: str) -> None:
        (self.root / new).parent.mkdir(parents=True, exist_ok=True)
        (self.root / old).rename(self.root / new)

    def remove(self, file: str) -> None:
        (self.root / file).unlink()

    def load(self) -> tuple[Loaded | None, list[str]]:
        problems = Problems()
        loaded = load_archive(self.root, problems, content=self.content)
        assert (loaded is None) == problems.has_errors
        return loaded, [str(p) for p in problems]

    def problems(self) -> list[str]:
        return self.load()[1]

    def sound(self) -> Loaded:
        loaded, problems = self.load()
        assert problems == []
        assert loaded is not None
        return loaded


def small_archive(folder: Path) -> Folder:
    """Write the small archive and its default content below a folder."""
    result = Folder(root=folder / "archive", content=folder / "content")
    for file, text in FILES.items():
        result.write(file, text)
    protocols = result.content / "protocols"
    protocols.mkdir(parents=True)
    (protocols / "soak.yaml").write_text(textwrap.dedent(PROTOCOL), encoding="utf-8")
    return result
