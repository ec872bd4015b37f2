"""The archive that `soakbook start` makes, published: small, and with every kind of page."""

from __future__ import annotations

from pathlib import Path

from tests.support.command import must

RESULT = "results/example-tower-on-example-card.html"


def publish_starter(folder: Path, *, theme: str = "") -> Path:
    """Start an archive below the folder, publish it, and return the site's folder."""
    must("start", folder / "archive")
    if theme:
        settings = folder / "archive" / "archive.yaml"
        settings.write_text(f"{settings.read_text(encoding='utf-8')}\ntheme: {theme}\n", encoding="utf-8")
    must("publish", folder / "archive", "--out", folder / "site")
    return folder / "site"
