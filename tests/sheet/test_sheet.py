"""The run sheet and the bundle file of a session that has not begun."""

from __future__ import annotations

import datetime as dt
import html
import re
import shutil
from pathlib import Path

import pytest

from builder.archive import load_archive, load_sound_parts
from builder.archive.bundle import Pad
from builder.archive.catalogue import CoolerKind
from builder.commands.sheet import SessionRequest, prepare_session, read_assembly
from builder.core.errors import Problems, SoakbookError
from builder.core.files import content_dir
from builder.sheet.steps import TICKS
from builder.site import read_words
from tests.support.command import DEMO, soakbook

DAY = dt.date(2026, 12, 1)
ASSEMBLY = read_assembly(content_dir())
BUNDLES = ("fenwick-slab-on-orrery-780", "orrery-780-stock-2026-06")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What of the demo plans a session: everything but the bundles, of which two are enough."""
    root = tmp_path_factory.mktemp("plan") / "archive"
    shutil.copytree(DEMO, root, ignore=shutil.ignore_patterns("public", ".*", "simulator", "bundles"))
    for bundle in BUNDLES:
        shutil.copytree(DEMO / "bundles" / bundle, root / "bundles" / bundle)
    return root


def wanted(**asked: object) -> SessionRequest:
    given = {"card": "orrery-780", "cooler": "moorhen-riffle", "protocol": "soak-10", "tested": DAY, **asked}
    return SessionRequest(**given)  # type: ignore[arg-type] # the tests' own values


def sheet(root: Path, **asked: object) -> str:
    done = prepare_session(root, wanted(**asked))
    text = done.sheet.read_text(encoding="utf-8")
    shutil.rmtree(done.sheet.parent)
    return text


def words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text.split("</style>")[1])).split())


# --- the bundle file -----------------------------------------------------------------------------------------------


def test_the_bundle_file_has_a_commented_line_for_each_test_point(demo: Path) -> None:
    done = prepare_session(demo, wanted(mounts=2))
    text = done.bundle_file.read_text(encoding="utf-8")
    shutil.rmtree(done.bundle_file.parent)
    protocol = re.findall(
        r"^  - id: (\S+)", (content_dir() / "protocols/soak-10.yaml").read_text(encoding="utf-8"), re.MULTILINE
    )
    assert re.findall(r"^      # - \{point: (\S+), log: m1-\1\.csv\}", text, re.MULTILINE) == protocol
    assert re.findall(r"^  #     - \{point: (\S+), log: m2-\1\.csv\}", text, re.MULTILINE) == ["stock", "power-80"]


def test_a_planned_bundle_is_a_notice_and_stops_nothing(demo: Path) -> None:
    done = prepare_session(demo, wanted())
    written = done.bundle_file.read_text(encoding="utf-8").splitlines()
    problems = Problems()
    loaded = load_archive(demo, problems)
    shutil.rmtree(done.sheet.parent)
    assert loaded
    assert done.bundle not in loaded.catalogue.bundles
    (told,) = (p for p in problems if done.bundle in p.where.file)
    assert (told.severity, told.code) == ("notice", "no-run-yet")
    assert written[told.where.line - 1].strip() == "- runs:"
    assert told.message == "no run yet: the bundle is planned, and is left out until a run is named"


def test_every_line_may_lose_its_mark_and_the_file_stays_valid(demo: Path) -> None:
    done = prepare_session(demo, wanted(pads=(Pad(where="memory", thickness_mm=1.5, gap_mm=1.3),)))
    folder = done.bundle_file.parent
    text = done.bundle_file.read_text(encoding="utf-8")
    lines = text.splitlines()
    first = lines.index("mounts:")
    opened = [line.replace("# ", "", 1) if i > first else line for i, line in enumerate(lines)]
    done.bundle_file.write_text("\n".join(opened).replace(" # Leave", "  # Leave"), encoding="utf-8")
    for mount, point in re.findall(r"log: m(\d)-(\S+)\.csv", text):
        (folder / f"m{mount}-{point}.csv").write_text("x", encoding="utf-8")
    problems = Problems()
    loaded = load_sound_parts(demo, problems)
    shutil.rmtree(folder)
    assert [str(p) for p in problems if done.bundle in p.where.file] == []
    assert loaded
    assert [len(mount.runs) for mount in loaded.catalogue.bundles[done.bundle].mounts] == [11, 2]


def test_a_bench_that_logs_no_ambient_asks_for_it_by_hand(demo: Path, tmp_path: Path) -> None:
    root = tmp_path / "archive"
    shutil.copytree(demo, root)
    bench = root / "benches/open-frame.yaml"
    kept = [line for line in bench.read_text(encoding="utf-8").splitlines() if "ambient_temperature" not in line]
    bench.write_text("\n".join(kept), encoding="utf-8")
    done = prepare_session(root, wanted(bench="open-frame"))
    assert "log: m1-stock.csv, ambient_c: 22.5}" in done.bundle_file.read_text(encoding="utf-8")


def test_nothing_is_ever_overwritten(demo: Path) -> None:
    taken = wanted(cooler="fenwick-slab")
    first = prepare_session(demo, taken)
    assert first.bundle == "fenwick-slab-on-orrery-780-2026-12"
    before = first.bundle_file.read_bytes()
    with pytest.raises(SoakbookError) as refused:
        prepare_session(demo, taken)
    assert [p.code for p in refused.value.problems] == ["bundle-exists"]
    assert first.bundle_file.read_bytes() == before
    assert [p.name for p in (demo / "bundles").iterdir() if p.name.startswith(".")] == []
    shutil.rmtree(first.sheet.parent)


def test_names_that_do_not_exist_are_all_told_with_the_nearest(demo: Path) -> None:
    with pytest.raises(SoakbookError) as refused:
        prepare_session(demo, wanted(card="orrery-78", cooler="fenwick-slob", protocol="soak-11", bench="open-fram"))
    assert [(p.code, p.hint) for p in refused.value.problems] == [
        ("unknown-cooler", 'did you mean "fenwick-slab"?'),
        ("unknown-bench", 'did you mean "open-frame"?'),
        ("unknown-card", 'did you mean "orrery-780"?'),
        ("unknown-protocol", 'did you mean "soak-10"?'),
    ]


def test_what_is_not_said_is_taken_from_the_latest_bundle_and_told(demo: Path) -> None:
    done = prepare_session(demo, wanted(cooler="fenwick-slab"))
    shutil.rmtree(done.sheet.parent)
    assert done.remarks == (
        "bench open-frame, as in the latest bundle, orrery-780-stock-2026-06",
        "pads as in fenwick-slab-on-orrery-780",
    )


# --- the sheet -----------------------------------------------------------------------------------------------------


def test_times_follow_from_soak_window_and_changeover(demo: Path) -> None:
    # soak-10 on liquid: idle 240 + 300 s; loaded points 1200 + 630 s, seven passes of 90 s; 180 s between runs.
    rows = re.findall(
        r"<td>(\d\d:\d\d)</td><td>(\d\d:\d\d)</td><td class=\"ends\">(\d\d:\d\d)", sheet(demo, start=dt.time(10, 30))
    )
    begins = [0.0] + [720.0 + n * (1830 + 180) for n in range(10)]
    soaks = [240.0] + [1200.0] * 10
    lengths = [540.0] + [1830.0] * 10

    def clock(seconds: float) -> str:
        minutes = 10 * 60 + 30 + -(-seconds // 60)
        return f"{int(minutes // 60):02d}:{int(minutes % 60):02d}"

    expected = [(clock(b), clock(b + s), clock(b + n)) for b, s, n in zip(begins, soaks, lengths, strict=True)]
    assert rows == expected


def test_the_changeover_is_stated(demo: Path) -> None:
    assert "3 min between runs to set the next point and save the log" in words(sheet(demo))


def test_without_a_start_times_count_from_the_first_run(demo: Path) -> None:
    assert re.findall(r"<td>([^<]*)</td><td>[^<]*</td><td class=\"ends\">", sheet(demo))[:3] == [
        "+0:00",
        "+0:12",
        "+0:46",
    ]


def test_a_session_past_midnight_says_so(demo: Path) -> None:
    assert "00:02 (day 2)" in sheet(demo, start=dt.time(23, 50), protocol="brief-5")


def test_settings_name_the_watts_of_this_card(demo: Path) -> None:
    assert "Here: 228 W." in sheet(demo)  # 80 % of 285 W


def test_a_limit_that_the_card_refuses_is_left_out_and_takes_no_time(demo: Path, tmp_path: Path) -> None:
    root = tmp_path / "archive"
    shutil.copytree(demo, root)
    card = root / "cards/orrery-780.yaml"
    text = re.sub(r"power_limit_pct:.*", "power_limit_pct: {min: 75, max: 112}", card.read_text(encoding="utf-8"))
    card.write_text(text, encoding="utf-8")
    done = prepare_session(root, wanted())
    text = done.sheet.read_text(encoding="utf-8")
    assert text.count("Leave out: the card takes power limits of 75 to 112 %.") == 2
    assert text.count('<td class="ends"></td>') == 2
    assert "{point: power-60, log: m1-power-60.csv}  # Leave out" in done.bundle_file.read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", CoolerKind)
def test_every_check_that_is_asked_for_is_ticked_at_a_step(kind: CoolerKind) -> None:
    ticked = {step.check for step in ASSEMBLY.steps if str(kind) in step.kinds and step.check}
    assert set(TICKS[kind]) <= ticked
    # A stock cooler may be tested as delivered: its screws are then not touched, and nothing is asked.
    assert ticked - set(TICKS[kind]) == ({"screws_crosswise"} if kind is CoolerKind.STOCK else set())


COOLERS = {
    "moorhen-riffle": "water block",
    "gritstone-twin": "air",
    "lapwing-loop": "hybrid",
    "orrery-780-stock": "stock",
}


@pytest.mark.parametrize(("cooler", "kind"), COOLERS.items())
def test_every_caution_stands_before_the_steps_that_it_is_for(demo: Path, cooler: str, kind: str) -> None:
    text = words(sheet(demo, cooler=cooler))
    cautions = [c for c in read_words(demo, content_dir(), ()).cautions if "sheet step" in c.where and kind in c.kinds]
    assert cautions
    for caution in cautions:
        first = next(s.text for s in ASSEMBLY.steps if s.stage == caution.step and kind in s.kinds)
        assert -1 < text.find(caution.short) < text.find(first), caution.id
        assert caution.why in text


def test_a_loop_is_leak_tested_after_mounting_and_before_power(demo: Path) -> None:
    text = words(sheet(demo))
    order = ["flow_direction_checked", "Air test before any coolant", "Fill slowly", "bled", "leak_tested", "Power on."]
    places = [text.find(part) for part in order]
    assert -1 not in places
    assert places == sorted(places)


def test_an_air_cooler_has_no_coolant_on_its_sheet(demo: Path) -> None:
    text = words(sheet(demo, cooler="gritstone-twin")).lower()
    assert not re.search(r"coolant\b|leak|bleed|fittings|pump", text)


def test_a_sealed_loop_is_looked_over_and_neither_filled_nor_pressed(demo: Path) -> None:
    text = words(sheet(demo, cooler="lapwing-loop"))
    assert "Look over the sealed loop" in text
    assert not re.search(r"Fill, bleed|Leak test|test pressure|mix coolants", text)
    assert "Treat coolant as poison." in text  # a leak is still one


def test_the_sheet_spells_the_command_that_follows_its_first_run_under_load(demo: Path) -> None:
    assert "soakbook reduce DIR moorhen-riffle-on-orrery-780 --follow m1/stock" in words(sheet(demo))


def test_pads_show_compression_and_a_warning(demo: Path) -> None:
    pads = (Pad(where="memory <1>", thickness_mm=1.0, gap_mm=0.95), Pad(where="coils", thickness_mm=2.0, gap_mm=1.0))
    text = words(sheet(demo, pads=pads))
    assert "memory <1> 1 mm 0.95 mm 5 % Warning: compressed by 5 % only: contact may be poor" in text
    assert "coils 2 mm 1 mm 50 % Warning: compressed by 50 %" in text
    assert "common practice, no source" in text


def test_makers_and_local_codes_come_first(demo: Path) -> None:
    assert "The makers' instructions and your local codes come first." in words(sheet(demo))


def test_the_sheet_needs_nothing_beside_it(demo: Path) -> None:
    text = sheet(demo)
    assert re.findall(r"(?:src|href)=|url\(|@import|<script", text) == []


# --- the command ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "options",
    [
        ("--start", "25:00"),
        ("--start", "half past ten"),
        ("--pad", "memory:thick"),
        ("--pad", "memory"),
        ("--pad", "memory:-1"),
        ("--mounts", "0"),
        ("--date", "2026-02-30"),
    ],
)
def test_bad_options_are_a_wrong_usage(demo: Path, options: tuple[str, str]) -> None:
    session = ("--card", "orrery-780", "--cooler", "moorhen-riffle", "--protocol", "brief-5")
    done = soakbook("sheet", demo, *session, *options)
    assert done.returncode == 2
    assert options[0] in done.stderr
    assert "Traceback" not in done.stderr


def test_the_command_names_both_files(tmp_path: Path) -> None:
    assert soakbook("start", tmp_path / "a").returncode == 0
    done = soakbook("sheet", tmp_path / "a", "--card", "example-card", "--cooler", "example-tower",
                    "--protocol", "brief-5", "--date", "2026-12-01", "--start", "9:05")  # fmt: skip
    assert done.returncode == 0, done.stderr
    folder = tmp_path / "a/bundles/example-tower-on-example-card-2026-12"
    assert sorted(p.name for p in folder.iterdir()) == ["bundle.yaml", "run-sheet.html"]
    assert str(folder / "bundle.yaml") in done.stderr
    assert str(folder / "run-sheet.html") in done.stderr
    assert "<td>09:05</td>" in (folder / "run-sheet.html").read_text(encoding="utf-8")


def test_the_head_says_what_so_many_mounts_tell(demo: Path) -> None:
    """The numbers by the power of Student's t, checked against another library in tests/uncertainty."""
    one, three = (re.search(r"tell ([\d.]+)\s*K between", words(sheet(demo, mounts=n))) for n in (1, 3))
    assert one is not None
    assert three is not None
    assert float(three[1]) < float(one[1]) < 5
