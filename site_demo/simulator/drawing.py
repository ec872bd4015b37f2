"""Draws the demo's pictures: the demo has no photographs, since nothing in it exists.

    python site_demo/simulator/drawing.py            # writes the pictures into the demo's bundles
    python site_demo/simulator/drawing.py SOME_DIR   # the same into another folder

Needs Pillow only. Shapes are drawn three times too large and made smaller, so that slanted edges are smooth.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

Place = tuple[float, float]
Box = tuple[float, float, float, float]

WIDTH, HEIGHT = 1600, 1000
SCALE = 3
COLOURS = 48

BENCH, BOARD, PACKAGE, DIE, METAL = "#e9e5d8", "#3d4a44", "#8a8f86", "#c6cac4", "#b58a5a"
MEMORY, PAD, PASTE, INK, COLD, WARM = "#23261f", "#9db7c9", "#f3f1ea", "#23261f", "#5e7ce1", "#d35765"


class Sheet:
    """A picture to draw on, in pixels of the finished size."""

    def __init__(self) -> None:
        self.image = Image.new("RGB", (WIDTH * SCALE, HEIGHT * SCALE), BENCH)
        self._draw = ImageDraw.Draw(self.image)

    def box(self, box: Box, fill: str, radius: float = 8) -> None:
        """Draw a filled box with rounded corners."""
        self._draw.rounded_rectangle([v * SCALE for v in box], radius * SCALE, fill=fill, outline=INK, width=4 * SCALE)

    def stroke(self, start: Place, end: Place, *, fill: str, width: float) -> None:
        """Draw a thick line with round ends."""
        self._draw.line([v * SCALE for v in (*start, *end)], fill=fill, width=int(width * SCALE))
        for x, y in (start, end):
            self.disc(x, y, width / 2, fill)

    def disc(self, x: float, y: float, radius: float, fill: str) -> None:
        """Draw a filled circle."""
        self._draw.ellipse([v * SCALE for v in (x - radius, y - radius, x + radius, y + radius)], fill=fill)

    def arrow(self, x: float, y: float, *, down: bool, fill: str) -> None:
        """Draw an arrow head whose tip is at a point."""
        back = -60 if down else 60
        points = [(x, y), (x - 40, y + back), (x + 40, y + back)]
        self._draw.polygon([(px * SCALE, py * SCALE) for px, py in points], fill=fill)

    def words(self, x: float, y: float, text: str, size: float = 40) -> None:
        """Write text whose top left corner is at a point."""
        self._draw.text((x * SCALE, y * SCALE), text, fill=INK, font=ImageFont.load_default(size * SCALE))

    def save(self, path: Path) -> None:
        """Write the picture as PNG in few colours."""
        path.parent.mkdir(parents=True, exist_ok=True)
        smaller = self.image.resize((WIDTH, HEIGHT), Image.Resampling.BOX)
        smaller.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)


def _board(sheet: Sheet) -> None:
    sheet.box((120, 130, 1480, 850), BOARD, 24)
    for x, y in ((330, 210), (330, 425), (330, 640), (1090, 210), (1090, 425), (1090, 640)):
        sheet.box((x, y, x + 180, y + 130), MEMORY)
        sheet.box((x + 15, y + 15, x + 165, y + 115), PAD)
    sheet.box((570, 250, 1030, 710), PACKAGE, 16)
    sheet.words(120, 900, "A drawing, not a photograph: nothing in this archive exists.")


def paste(sheet: Sheet) -> None:
    """Draw paste as a cross on the die, pads on the memory."""
    _board(sheet)
    sheet.box((660, 340, 940, 620), DIE)
    sheet.stroke((700, 380), (900, 580), fill=PASTE, width=34)
    sheet.stroke((900, 380), (700, 580), fill=PASTE, width=34)
    sheet.words(120, 60, "Paste as a cross, pads on the memory")


def flow(sheet: Sheet) -> None:
    """Draw a block on the card with its inlet and outlet."""
    _board(sheet)
    sheet.box((520, 210, 1080, 750), METAL, 30)
    for x, fill in ((680, COLD), (920, WARM)):
        sheet.stroke((x, 90), (x, 480), fill=fill, width=70)
        sheet.disc(x, 480, 62, INK)
        sheet.disc(x, 480, 40, fill)
    sheet.arrow(680, 330, down=True, fill=PASTE)
    sheet.arrow(920, 200, down=False, fill=PASTE)
    sheet.words(120, 60, "Inlet left, outlet right")


PICTURES: dict[str, Callable[[Sheet], None]] = {
    "bundles/fenwick-slab-on-orrery-780/paste.png": paste,
    "bundles/moorhen-riffle-on-orrery-780/flow.png": flow,
}


def write_pictures(root: Path) -> None:
    """Write every picture below an archive's folder."""
    for name, draw in PICTURES.items():
        sheet = Sheet()
        draw(sheet)
        sheet.save(root / name)


if __name__ == "__main__":
    write_pictures(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent)
