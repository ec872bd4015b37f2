"""The files of an episode kit: charts and cards drawn, texts and tables as bytes, and a manifest of all."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field

from builder import __version__
from builder.charts import DARK, LIGHT, Chart
from builder.exports.tables import csv_bytes
from builder.kit import COLUMNS, SIZES, Card, KitPlan, card_svg
from builder.pictures import png_of, still_svg

MANIFEST = "manifest.json"
KIND = "episode kit"
_PALETTES = (LIGHT, DARK)


@dataclass(frozen=True, kw_only=True)
class KitFile:
    """One file of a kit: path inside it, and its bytes."""

    path: str
    data: bytes


@dataclass(kw_only=True, eq=False)
class KitRenderer:
    """Gives the files of a kit one after the other, the manifest last; the same bytes each time."""

    plan: KitPlan
    _entries: list[dict[str, object]] = field(default_factory=list)

    @property
    def total(self) -> int:
        """Return how many files the kit has: pictures in both modes, four texts and the manifest."""
        pictures = len(self.plan.charts) + len(self.plan.cards)
        return pictures * len(_PALETTES) * (1 + len(SIZES)) + 4 + 1

    def files(self) -> Iterator[KitFile]:
        """Give every file, texts first, since they are ready at once."""
        self._entries.clear()
        for file in self._texts():
            yield self._noted(file)
        pictures: tuple[Chart | Card, ...] = (*self.plan.cards, *self.plan.charts)
        for picture in pictures:
            for file in _pictures(picture):
                yield self._noted(file)
        yield self._manifest()

    def _noted(self, file: KitFile) -> KitFile:
        digest = hashlib.sha256(file.data).hexdigest()
        self._entries.append({"path": file.path, "bytes": len(file.data), "sha256": digest})
        return file

    def _texts(self) -> Iterator[KitFile]:
        plan = self.plan
        yield KitFile(path="lines.md", data=plan.lines.encode())
        yield KitFile(path="description.txt", data=plan.description.encode())
        yield KitFile(path="captions.csv", data=csv_bytes(COLUMNS, [caption.row for caption in plan.captions]))
        yield KitFile(path="captions.json", data=_json([dataclasses.asdict(caption) for caption in plan.captions]))

    def _manifest(self) -> KitFile:
        record = {
            "kind": KIND,
            "generator": f"soakbook {__version__}",
            "bundle": self.plan.bundle,
            "mark": self.plan.mark,
            "files": sorted(self._entries, key=lambda entry: str(entry["path"])),
        }
        return KitFile(path=MANIFEST, data=_json(record))


def _pictures(picture: Chart | Card) -> Iterator[KitFile]:
    """Give a picture in both modes: vectors once, since they fit any size, and pixels in each size."""
    for palette in _PALETTES:
        if isinstance(picture, Card):
            svg, stem = card_svg(picture, palette), f"cards/{picture.id}-{palette.name}"
        else:
            svg, stem = still_svg(picture, SIZES[0], palette), f"stills/{picture.id}-{palette.name}"
        yield KitFile(path=f"{stem}.svg", data=f"{svg}\n".encode())
        for width, height in SIZES:
            yield KitFile(path=f"{stem}-{width}x{height}.png", data=png_of(svg, scale=width / SIZES[0][0]))


def _json(record: object) -> bytes:
    return (json.dumps(record, ensure_ascii=False, allow_nan=False, indent=2) + "\n").encode()
