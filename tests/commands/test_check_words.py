"""Words of a whole archive against its figures: scripts, notes, and the archive's own pages."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from builder.commands.check import check_archive
from builder.commands.publish import publish
from builder.commands.start import start_archive
from builder.core.errors import SoakbookError

BUNDLE = "example-tower-on-example-card"


@pytest.fixture(scope="module")
def started(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("started") / "archive"
    start_archive(root)
    check_archive(root)  # so that copies find the figures already reduced
    return root


@pytest.fixture
def archive(started: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(started, tmp_path / "archive"))


def page(root: Path, text: str) -> None:
    (root / "pages").mkdir(exist_ok=True)
    (root / "pages" / "summer.md").write_text(f"# Summer\n\n{text}\n", encoding="utf-8")


def found(root: Path) -> list[str]:
    return [str(p) for p in check_archive(root).problems if p.where.file.startswith(("pages", f"bundles/{BUNDLE}"))]


def test_a_page_links_a_figure_by_its_full_address(archive: Path, tmp_path: Path) -> None:
    page(archive, f"At stock it is [43 degrees](figure:{BUNDLE}/stock/core_rise), and 12 W are no figure.")
    assert found(archive) == []
    publish(archive, tmp_path / "site")
    text = (tmp_path / "site" / "summer.html").read_text(encoding="utf-8")
    assert f'<a href="results/{BUNDLE}.html#f-stock-core_rise">43 degrees</a>' in text
    assert 'id="f-stock-core_rise"' in (tmp_path / "site" / "results" / f"{BUNDLE}.html").read_text(encoding="utf-8")


WRONG = {
    "no bundle": (
        "[43 degrees](figure:stock/core_rise)",
        'error[unknown-figure] pages/summer.md:3: "figure:stock/core_rise" names no bundle, and a page belongs to none',
        "write figure:BUNDLE/stock/core_rise",
    ),
    "another bundle": (
        "[43 degrees](figure:example-towr/stock/core_rise)",
        'error[unknown-figure] pages/summer.md:3: there is no bundle "example-towr"',
        f"there are: {BUNDLE}",
    ),
    "wrong number": (
        f"[45 degrees](figure:{BUNDLE}/stock/core_rise)",
        'error[claim-differs] pages/summer.md:3: said "45 degrees", computed 43.4 ± 1.9 K',
        'as one speaks it: "43 degrees"',
    ),
}


@pytest.mark.parametrize(("text", "message", "hint"), WRONG.values(), ids=WRONG.keys())
def test_a_page_that_says_what_is_not_so_is_never_published(
    archive: Path, tmp_path: Path, text: str, message: str, hint: str
) -> None:
    page(archive, text)
    assert found(archive) == [f"{message}\nhint: {hint}"]
    with pytest.raises(SoakbookError) as stopped:
        publish(archive, tmp_path / "site")
    assert [str(p) for p in stopped.value.problems] == [f"{message}\nhint: {hint}"]
    assert not (tmp_path / "site").exists()


def test_a_heading_past_the_end_of_the_video_is_an_error_at_its_line(archive: Path) -> None:
    file = archive / "bundles" / BUNDLE / "bundle.yaml"
    text = file.read_text(encoding="utf-8")
    file.write_text(f'{text}\nepisode: {{title: "One", length: "12:00"}}\n', encoding="utf-8")
    script = "# One\n\n## 12:00 The last\n\nWords.\n\n## 13:05 Credits\n"
    (archive / "bundles" / BUNDLE / "script.md").write_text(script, encoding="utf-8")
    message = (
        f"error[moment-past-end] bundles/{BUNDLE}/script.md:7: 13:05 is past the end of the video, whose length is"
    )
    hint = "mend the time in the heading, or episode.length in bundle.yaml"
    assert [p for p in found(archive) if "script" in p] == [f"{message} 12:00\nhint: {hint}"]
