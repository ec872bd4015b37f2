"""The ledger: what was published stays recorded, and a figure that changes without a word is noticed."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from builder.commands.check import check_archive
from builder.commands.ledger import Change, Entry, Ledger, after_publication, changed, read_ledger, write_ledger
from builder.commands.publish import publish
from builder.core.errors import SoakbookError
from tests.support.command import soakbook

BUNDLE = "example-tower-on-example-card"


def entry(rise: str, *, corrections: int = 0) -> Entry:
    return Entry(protocol="brief-5", version=1, corrections=corrections, figures={"stock": {"core_rise": rise}})


def of(**results: Entry) -> Ledger:
    return Ledger(results=results)


# --- what changed ----------------------------------------------------------------------------------------------


def test_the_same_digits_are_no_change() -> None:
    assert changed(of(a=entry("30.1 ± 0.8 K")), {"a": entry("30.1 ± 0.8 K")}) == ()


def test_other_digits_are_a_change_with_both_figures() -> None:
    found = changed(of(a=entry("30.1 ± 0.8 K")), {"a": entry("31.0 ± 0.8 K")})
    assert found == (
        Change(bundle="a", figure="stock/core_rise", was="30.1 ± 0.8 K", now="31.0 ± 0.8 K", corrected=False),
    )


def test_a_new_correction_covers_the_change_and_an_old_one_does_not() -> None:
    (covered,) = changed(of(a=entry("1 K")), {"a": entry("2 K", corrections=1)})
    (open_one,) = changed(of(a=entry("1 K", corrections=1)), {"a": entry("2 K", corrections=1)})
    assert (covered.corrected, open_one.corrected) == (True, False)


def test_a_result_that_is_gone_stays_recorded() -> None:
    after = after_publication(of(old=entry("1 K")), {"new": entry("2 K")})
    assert sorted(after.results) == ["new", "old"]


def test_changes_are_kept_in_their_order() -> None:
    ledger = of(a=entry("1 K"))
    for digits in ("2 K", "3 K"):
        ledger = after_publication(ledger, {"a": entry(digits)})
    assert [(c.was, c.now) for c in ledger.changes] == [("1 K", "2 K"), ("2 K", "3 K")]


# --- the file --------------------------------------------------------------------------------------------------


def test_before_the_first_publication_the_ledger_is_empty(tmp_path: Path) -> None:
    assert read_ledger(tmp_path) == Ledger()


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    ledger = after_publication(of(a=entry("30.1 ± 0.8 K")), {"a": entry("31.0 ± 0.8 K")})
    assert write_ledger(tmp_path, ledger) is None
    assert read_ledger(tmp_path) == ledger
    assert [p.name for p in tmp_path.iterdir()] == ["ledger.json"]


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"format": 2}', '{"results": {"a": {}}}', '{"format": 1, "more": 1}', "\0\xff"]
)
def test_a_ledger_that_cannot_be_read_is_an_error_and_is_not_written_over(tmp_path: Path, text: str) -> None:
    (tmp_path / "ledger.json").write_text(text, encoding="utf-8")
    with pytest.raises(SoakbookError) as refused:
        read_ledger(tmp_path)
    assert [(p.code, p.where.file) for p in refused.value.problems] == [("bad-ledger", "ledger.json")]
    assert "version control" in refused.value.problems[0].hint


def test_a_ledger_outside_the_archive_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere.json").write_text("{}", encoding="utf-8")
    archive = tmp_path / "archive"
    archive.mkdir()
    (archive / "ledger.json").symlink_to("../elsewhere.json")
    with pytest.raises(SoakbookError):
        read_ledger(archive)


# --- publication -----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new archive, published once."""
    root = tmp_path_factory.mktemp("ledger") / "archive"
    assert soakbook("start", root).returncode == 0
    publish(root, root / "public")
    return root


@pytest.fixture
def archive(first: Path, tmp_path: Path) -> Path:
    return shutil.copytree(first, tmp_path / "archive")


def ledger_of(root: Path) -> Any:  # noqa: ANN401 - JSON
    return json.loads((root / "ledger.json").read_text(encoding="utf-8"))


def figures_changed(root: Path) -> list[tuple[str, str, str]]:
    return [(p.severity, p.where.file, p.message) for p in check_archive(root).problems if p.code == "figure-changed"]


def with_another_figure_published(root: Path) -> None:
    """Make the ledger say that another figure was published."""
    text = (root / "ledger.json").read_text(encoding="utf-8")
    shown = ledger_of(root)["results"][BUNDLE]["figures"]["stock"]["core_rise"]
    (root / "ledger.json").write_text(text.replace(shown, f"9{shown}"), encoding="utf-8")


def test_a_publication_records_every_figure_as_the_page_shows_it(archive: Path) -> None:
    entry = ledger_of(archive)["results"][BUNDLE]
    assert (entry["protocol"], entry["version"]) == ("brief-5", 1)
    value, u = entry["figures"]["stock"]["core_rise"].removesuffix(" K").split(" ± ")
    page = (archive / "public" / "results" / f"{BUNDLE}.html").read_text(encoding="utf-8")
    assert f">{value}</span>" in page
    assert f">{u}</span>" in page


def test_publishing_the_same_again_leaves_the_ledger_as_it_is(archive: Path) -> None:
    before = (archive / "ledger.json").read_bytes()
    publish(archive, archive / "public")
    assert (archive / "ledger.json").read_bytes() == before
    assert figures_changed(archive) == []


def test_a_figure_that_changed_without_a_word_is_a_notice_in_check_and_publish(archive: Path) -> None:
    shown = ledger_of(archive)["results"][BUNDLE]["figures"]["stock"]["core_rise"]
    with_another_figure_published(archive)
    said = f"stock/core_rise was published as 9{shown} and is now {shown}"
    assert figures_changed(archive) == [("notice", f"bundles/{BUNDLE}/bundle.yaml", said)]
    done = publish(archive, archive / "public")
    assert [p.message for p in done.problems if p.code == "figure-changed"] == [said]
    (change,) = ledger_of(archive)["changes"]
    assert (change["was"], change["now"], change["corrected"]) == (f"9{shown}", shown, False)
    assert figures_changed(archive) == []  # it is said once, and stays recorded


def test_a_correction_covers_the_change(archive: Path) -> None:
    with_another_figure_published(archive)
    bundle = archive / "bundles" / BUNDLE / "bundle.yaml"
    correction = '{date: 2026-02-01, figure: stock/core_rise, was: "x", now: "y", reason: "A wrong note."}'
    kept = [line for line in bundle.read_text(encoding="utf-8").splitlines() if not line.startswith("corrections:")]
    bundle.write_text("\n".join([*kept, f"corrections: [{correction}]", ""]), encoding="utf-8")
    assert figures_changed(archive) == []
    publish(archive, archive / "public")
    assert [change["corrected"] for change in ledger_of(archive)["changes"]] == [True]


def test_a_result_that_was_published_and_is_gone_is_noticed_until_its_address_is_moved(archive: Path) -> None:
    ledger = ledger_of(archive)
    ledger["results"]["gone-cooler"] = ledger["results"][BUNDLE]
    (archive / "ledger.json").write_text(json.dumps(ledger), encoding="utf-8")
    gone = [p for p in check_archive(archive).problems if p.code == "result-gone"]
    assert [p.message for p in gone] == ["results/gone-cooler.html was published, and is not in the archive any more"]
    text = (archive / "archive.yaml").read_text(encoding="utf-8")
    moved = f"moved: {{results/gone-cooler.html: results/{BUNDLE}.html}}"
    (archive / "archive.yaml").write_text(f"{text}\n{moved}\n", encoding="utf-8")
    assert [p for p in check_archive(archive).problems if p.code == "result-gone"] == []


def test_a_spoilt_ledger_stops_the_publication_and_keeps_site_and_ledger(archive: Path) -> None:
    (archive / "ledger.json").write_text("{", encoding="utf-8")
    site = (archive / "public" / "index.html").stat()
    done = soakbook("publish", archive)
    assert done.returncode == 1
    assert "error[bad-ledger] ledger.json" in done.stderr
    assert "Traceback" not in done.stderr
    assert (archive / "ledger.json").read_text(encoding="utf-8") == "{"
    assert (archive / "public" / "index.html").stat() == site
    assert soakbook("check", archive).returncode == 1


def test_a_ledger_that_cannot_be_written_is_a_warning_and_the_site_stands(
    archive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (archive / "ledger.json").unlink()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("builder.core.writing.tempfile.mkstemp", full)
    done = publish(archive, archive / "public")
    told = [(p.severity, p.message) for p in done.problems if p.code == "ledger-not-written"]
    assert told == [("warning", "the ledger was not written: No space left on device")]
    assert (archive / "public" / "index.html").is_file()
