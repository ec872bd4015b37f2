"""The commands `check` and `kit` on an archive in a folder."""

from __future__ import annotations

import csv
import datetime as dt
import errno
import hashlib
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from builder import cli
from builder.charts.of_result import still_charts
from builder.commands.sheet import SessionRequest, prepare_session
from builder.commands.staging import Staged
from builder.commands.start import start_archive
from builder.kit import SIZES
from tests.support import readme
from tests.support.command import ROOT, soakbook

BUNDLE = "example-tower-on-example-card"
TRUE = """\
# Example

## 1:20 At stock

The core sits [43 degrees](figure:stock/core_rise) above the room. At the lower limit it is
[8 degrees cooler](figure:power-80/core_rise#change).
"""
SMALL = ((480, 270),)


def archive_in(folder: Path, script: str = TRUE) -> Path:
    root = folder / "archive"
    start_archive(root)
    (root / "bundles" / BUNDLE / "script.md").write_text(script, encoding="utf-8")
    return root


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the kit that the real command makes of the starter archive."""
    root = archive_in(tmp_path_factory.mktemp("kit"))
    done = soakbook("kit", root, BUNDLE)
    assert done.returncode == 0, done.stderr
    return root / "kit" / BUNDLE


@pytest.fixture
def whole_root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an archive of which kits have small pictures."""
    monkeypatch.setattr("builder.kit.kit.SIZES", SMALL)
    return archive_in(tmp_path)


@pytest.fixture
def root(whole_root: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an archive of which kits have small pictures of one chart, and are made quickly."""
    monkeypatch.setattr("builder.kit.kit.still_charts", lambda *args: still_charts(*args)[:1])
    return whole_root


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


# --- what a kit holds ------------------------------------------------------------------------------------------


def test_a_kit_has_texts_cards_and_stills_of_every_chart(made: Path) -> None:
    names = set(files(made))
    assert {"lines.md", "description.txt", "captions.csv", "captions.json", "manifest.json"} <= names
    for stem in ("cards/title", "stills/points", "stills/changes", "stills/power", "stills/run"):
        for mode in ("light", "dark"):
            assert f"{stem}-{mode}.svg" in names
            assert {f"{stem}-{mode}-{width}x{height}.png" for width, height in SIZES} <= names


def test_every_picture_has_the_size_in_its_name_and_a_clear_background(made: Path) -> None:
    pictures = sorted(made.rglob("*.png"))
    for path in pictures:
        image = Image.open(path)
        assert path.stem.endswith(f"-{image.width}x{image.height}")
        assert image.getchannel("A").getextrema()[0] == 0
    assert len(pictures) >= 20


def test_the_manifest_names_every_file_with_its_hash_and_size(made: Path) -> None:
    manifest = json.loads((made / "manifest.json").read_text(encoding="utf-8"))
    listed = {entry["path"]: (entry["bytes"], entry["sha256"]) for entry in manifest["files"]}
    there = {n: (len(d), hashlib.sha256(d).hexdigest()) for n, d in files(made).items() if n != "manifest.json"}
    assert listed == there
    assert (manifest["kind"], manifest["bundle"], manifest["mark"]) == ("episode kit", BUNDLE, "")


def test_captions_follow_the_script(made: Path) -> None:
    with (made / "captions.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(r["moment"], r["heading"], r["line"], r["said"], r["problem"]) for r in rows] == [
        ("1:20", "At stock", "5", "43 degrees", ""),
        ("1:20", "At stock", "6", "8 degrees cooler", ""),
    ]
    records = json.loads((made / "captions.json").read_text(encoding="utf-8"))
    assert [{k: str(v) for k, v in record.items()} for record in records] == rows


def test_a_kit_is_not_published(made: Path) -> None:
    assert "public" not in made.parts


def test_the_same_archive_gives_the_same_bytes(root: Path) -> None:
    outs = [root.parent / name for name in ("one", "two")]
    for out in outs:
        assert cli.run(["kit", str(root), BUNDLE, "--out", str(out)]) == cli.FINE
    assert files(outs[0]) == files(outs[1])


def test_json_says_what_was_written(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["kit", str(root), BUNDLE, "--json"]) == cli.FINE
    record = json.loads(capsys.readouterr().out)
    out = Path(record["out"])
    assert out == root / "kit" / BUNDLE
    assert (record["files"], record["bytes"]) == (len(files(out)), sum(map(len, files(out).values())))


def test_a_new_kit_replaces_the_old_one_whole(root: Path) -> None:
    out = root / "kit" / BUNDLE
    assert cli.run(["kit", str(root), BUNDLE]) == cli.FINE
    (out / "stills" / "left-over.png").write_bytes(b"")
    assert cli.run(["kit", str(root), BUNDLE]) == cli.FINE
    assert "stills/left-over.png" not in files(out)
    assert sorted(p.name for p in out.parent.iterdir()) == [BUNDLE]


def test_a_wrong_claim_does_not_keep_the_kit_from_being_made(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = root / "bundles" / BUNDLE / "script.md"
    script.write_text("[40 degrees](figure:stock/core_rise)", encoding="utf-8")
    assert cli.run(["kit", str(root), BUNDLE]) == cli.BAD_INPUT
    assert "error[claim-differs]" in capsys.readouterr().err
    (caption,) = csv.DictReader(io.StringIO((root / "kit" / BUNDLE / "captions.csv").read_text(encoding="utf-8")))
    assert caption["problem"] == "claim-differs"


# --- runs that had not settled -----------------------------------------------------------------------------------


def test_a_kit_with_a_drifting_run_is_made_and_marked(whole_root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = whole_root
    log = root / "bundles" / BUNDLE / "m1-stock.csv"
    lines = log.read_text(encoding="utf-8").splitlines()
    log.write_text("\n".join(lines[: len(lines) // 2]) + "\n", encoding="utf-8")
    (root / "bundles" / BUNDLE / "script.md").unlink()
    assert cli.run(["kit", str(root), BUNDLE]) == cli.FINE
    out = root / "kit" / BUNDLE
    mark = json.loads((out / "manifest.json").read_text(encoding="utf-8"))["mark"]
    assert mark.startswith("run not settled: Stock")
    assert f"Every still says: {mark}." in capsys.readouterr().err
    pictures = [path.read_text(encoding="utf-8") for path in sorted(out.rglob("*.svg"))]
    assert pictures
    assert all("run not settled: Stock" in text.split("</desc>")[1] for text in pictures)
    assert "say so, or leave these numbers out" in (out / "lines.md").read_text(encoding="utf-8")


# --- side by side ------------------------------------------------------------------------------------------------


def copied(root: Path) -> None:
    """Put a second bundle with the same logs into the archive: a tie."""
    source, other = root / "bundles" / BUNDLE, root / "bundles" / "second-mount"
    other.mkdir()
    for path in source.iterdir():
        if path.suffix in (".csv", ".yaml"):
            (other / path.name).write_bytes(path.read_bytes())


def test_two_equal_results_are_too_close_to_call(root: Path) -> None:
    copied(root)
    assert cli.run(["kit", str(root), BUNDLE, "--against", "second-mount"]) == cli.FINE
    card = (root / "kit" / BUNDLE / "cards" / "against-light.svg").read_text(encoding="utf-8")
    assert ">too close to call<" in card
    assert "cooler<" not in card
    assert "warmer<" not in card


def test_a_run_of_the_other_result_that_had_not_settled_is_marked_with_its_name(root: Path) -> None:
    copied(root)
    log = root / "bundles" / "second-mount" / "m1-overclock.csv"
    lines = log.read_text(encoding="utf-8").splitlines()
    log.write_text("\n".join(lines[: len(lines) // 2]) + "\n", encoding="utf-8")
    assert cli.run(["kit", str(root), BUNDLE, "--against", "second-mount"]) == cli.FINE
    card = (root / "kit" / BUNDLE / "cards" / "against-light.svg").read_text(encoding="utf-8")
    assert re.search(r">Example Tower, \d{4}-\d\d, run not settled: Overclock<", card)
    title = (root / "kit" / BUNDLE / "cards" / "title-light.svg").read_text(encoding="utf-8")
    assert "run not settled" not in title


# --- what cannot be done -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bundle", "against"])
def test_an_unknown_bundle_is_named_with_the_nearest(name: str, root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = BUNDLE.replace("tower", "towr")
    arguments = [wrong] if name == "bundle" else [BUNDLE, "--against", wrong]
    assert cli.run(["kit", str(root), *arguments]) == cli.BAD_INPUT
    said = capsys.readouterr().err
    assert f'error[unknown-bundle] {wrong}: there is no bundle of this name\nhint: did you mean "{BUNDLE}"?' in said
    assert not (root / "kit").exists()


def test_a_result_cannot_stand_beside_itself(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["kit", str(root), BUNDLE, "--against", BUNDLE]) == cli.BAD_INPUT
    assert f"error[against-itself] {BUNDLE}: a result cannot stand beside itself" in capsys.readouterr().err


def plan_another(root: Path) -> str:
    """Plan a session beside the bundle that is there, and return its id."""
    wanted = SessionRequest(
        card="example-card", cooler="example-tower", protocol="brief-5", tested=dt.date(2026, 12, 1), mounts=1
    )
    return prepare_session(root, wanted).bundle


def test_a_planned_bundle_is_said_to_have_no_run_yet(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    planned = plan_another(root)
    for arguments in ([planned], [BUNDLE, "--against", planned]):
        assert cli.run(["kit", str(root), *arguments]) == cli.BAD_INPUT
        said = capsys.readouterr().err
        assert "the bundle has no run yet" in said
        assert "no bundle of this name" not in said


def test_notices_of_other_bundles_are_left_to_check(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    planned = plan_another(root)
    (root / "bundles" / BUNDLE / "left.csv").write_text("over\n", encoding="utf-8")
    for command in ("kit", "reduce"):
        assert cli.run([command, str(root), BUNDLE]) == cli.FINE
        said = capsys.readouterr().err
        assert f"notice[stray-file] bundles/{BUNDLE}/left.csv" in said
        assert planned not in said
    assert cli.run(["check", str(root)]) == cli.FINE
    assert planned in capsys.readouterr().err


def test_a_folder_that_is_no_kit_is_left_alone(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = root.parent / "films"
    out.mkdir()
    (out / "manifest.json").write_text('{"name": "an app"}', encoding="utf-8")
    assert cli.run(["kit", str(root), BUNDLE, "--out", str(out)]) == cli.BAD_INPUT
    assert "error[target-not-a-kit] films: holds files that are not an episode kit" in capsys.readouterr().err
    assert list(files(out)) == ["manifest.json"]


def full_after(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the disk be full after so many files."""
    write, left = Staged.write, [count]

    def limited(self: Staged, relative: str, data: bytes) -> None:
        if not left[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), relative)
        left[0] -= 1
        write(self, relative, data)

    monkeypatch.setattr(Staged, "write", limited)


@pytest.mark.parametrize("count", [0, 7])
def test_a_full_disk_leaves_the_old_kit(
    count: int, root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = root / "kit" / BUNDLE
    assert cli.run(["kit", str(root), BUNDLE]) == cli.FINE
    before = files(out)
    capsys.readouterr()
    full_after(count, monkeypatch)
    assert cli.run(["kit", str(root), BUNDLE]) == cli.BAD_INPUT
    assert capsys.readouterr().err == (
        f"error[cannot-write] {BUNDLE}: the kit cannot be written: No space left on device; "
        "the kit that was there is as it was\nhint: make room or choose another folder with --out\n1 error\n"
    )
    assert files(out) == before
    assert sorted(p.name for p in out.parent.iterdir()) == [BUNDLE]


def test_a_full_disk_leaves_nothing_where_no_kit_was(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    full_after(3, monkeypatch)
    assert cli.run(["kit", str(root), BUNDLE]) == cli.BAD_INPUT
    assert "No space left on device; nothing was left behind" in capsys.readouterr().err
    assert list((root / "kit").iterdir()) == []


LIMITED = (
    "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000)); from builder.cli import main; main()"
)


def test_the_system_refusing_a_write_is_one_clear_error(tmp_path: Path) -> None:
    """A real refusal, by the limit that POSIX sets on the size of a file (setrlimit, RLIMIT_FSIZE)."""
    root = archive_in(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, "kit", str(root), BUNDLE],
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith(f"error[cannot-write] {BUNDLE}: the kit cannot be written: File too large; ")
    assert "Traceback" not in done.stderr
    assert list((root / "kit").iterdir()) == []


# --- check -------------------------------------------------------------------------------------------------------


def test_check_reports_claims_and_lists_unlinked_numbers(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = root / "bundles" / BUNDLE / "script.md"
    script.write_text("At 214 W.\n\n[8 degrees warmer](figure:power-80/core_rise#change)\n", encoding="utf-8")
    assert cli.run(["check", str(root), "--json"]) == cli.BAD_INPUT
    record = json.loads(capsys.readouterr().out)
    file = f"bundles/{BUNDLE}/script.md"
    mine = [(p["code"], p["severity"], p["line"]) for p in record["problems"] if p["file"] == file]
    assert mine == [("unchecked-number", "notice", 1), ("claim-sign", "error", 3)]
    assert {"file": file, "line": 1, "text": "214 W"} in record["unchecked_numbers"]
    assert record["ok"] is False


def test_the_readme_shows_what_check_prints(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = "# Example\n\n[45 degrees](figure:stock/core_rise)\n[8 degrees warmer](figure:power-80/core_rise#change)\n"
    (root / "bundles" / BUNDLE / "script.md").write_text(script, encoding="utf-8")
    assert cli.run(["check", str(root)]) == cli.BAD_INPUT
    (shown,) = [block.text for block in readme.blocks(readme.readme()) if "[claim-differs]" in block.text]
    assert less_digits(shown) in less_digits(capsys.readouterr().err)


def less_digits(text: str) -> str:
    """Return messages without computed figures, whose last digits may change with the method."""
    return re.sub(r"computed [^:\n]*", "computed", text)


def test_check_is_silent_on_true_words(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["check", str(root)]) == cli.FINE
    assert "claim" not in capsys.readouterr().err


def test_false_notes_are_not_published_but_a_script_is_its_own_matter(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = root / "bundles" / BUNDLE
    (folder / "script.md").write_text("[40 degrees](figure:stock/core_rise)", encoding="utf-8")
    assert cli.run(["publish", str(root)]) == cli.FINE
    (folder / "notes.md").write_text("[40 degrees](figure:stock/core_rise)", encoding="utf-8")
    capsys.readouterr()
    assert cli.run(["publish", str(root)]) == cli.BAD_INPUT
    assert f"error[claim-differs] bundles/{BUNDLE}/notes.md:1:" in capsys.readouterr().err


def test_a_link_in_published_notes_leads_to_its_figure(root: Path) -> None:
    (root / "bundles" / BUNDLE / "notes.md").write_text("[43 degrees](figure:stock/core_rise)", encoding="utf-8")
    assert cli.run(["publish", str(root)]) == cli.FINE
    page = (root / "public" / "results" / f"{BUNDLE}.html").read_text(encoding="utf-8")
    assert '<a href="#f-stock-core_rise">43 degrees</a>' in page
    assert page.count('id="f-stock-core_rise"') == 1
