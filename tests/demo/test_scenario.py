"""The demo archive shows every situation that the product has an answer to, and stays small."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from pathlib import Path

import pytest

from builder.archive.bundle import Bundle, Run
from builder.archive.catalogue import Catalogue, CoolerKind
from builder.core.errors import Severity
from builder.core.results import Quantity, Verdict
from tests.demo.conftest import Demo
from tests.support.command import DEMO

LARGEST_FILE = 500_000
LARGEST_ARCHIVE = 12_000_000


def runs(bundle: Bundle) -> list[Run]:
    return [run for mount in bundle.mounts for run in mount.runs]


def reference_bundles(catalogue: Catalogue) -> dict[str, Bundle]:
    return {i: b for i, b in catalogue.bundles.items() if catalogue.coolers[b.cooler].reference}


def test_every_file_is_read_without_a_problem(demo: Demo) -> None:
    assert [str(p) for p in demo.problems if p.severity is not Severity.NOTICE] == []


def test_at_least_sixteen_bundles_span_two_years(demo: Demo) -> None:
    tested = sorted(b.tested for b in demo.catalogue.bundles.values())
    assert len(tested) >= 16
    assert tested[0] <= dt.date(2024, 5, 31)
    assert tested[-1] >= dt.date(2026, 5, 1)


def test_every_card_cooler_bench_and_protocol_is_used(demo: Demo) -> None:
    bundles = demo.catalogue.bundles.values()
    assert {b.card for b in bundles} == set(demo.catalogue.cards)
    assert {b.cooler for b in bundles} == set(demo.catalogue.coolers)
    assert {b.bench for b in bundles} == set(demo.catalogue.benches)
    assert {b.protocol for b in bundles} == {"soak-10", "brief-5"}
    assert {c.kind for c in demo.catalogue.coolers.values()} == set(CoolerKind)


def test_bench_changes_once(demo: Demo) -> None:
    in_order = [b.bench for b in sorted(demo.catalogue.bundles.values(), key=lambda b: b.tested)]
    assert in_order == ["back-room"] * in_order.count("back-room") + ["open-frame"] * in_order.count("open-frame")
    assert min(Counter(in_order).values()) >= 8


def test_benches_read_core_in_different_steps(demo: Demo) -> None:
    sensors = [bench.sensor(Quantity.CORE_TEMPERATURE) for bench in demo.catalogue.benches.values()]
    assert [s.resolution for s in sensors if s] == [1.0, 0.1]


def test_reference_cooler_is_retested_on_both_benches(demo: Demo) -> None:
    retests = {i: b for i, b in reference_bundles(demo.catalogue).items() if not any(run.by_hand for run in runs(b))}
    assert len(retests) in (5, 6)
    assert Counter(b.bench for b in retests.values()) == {"back-room": 3, "open-frame": 3}


def test_three_old_episodes_were_read_by_hand_before_anything_was_logged(demo: Demo) -> None:
    bundles = demo.catalogue.bundles
    old = {i for i, b in bundles.items() if any(run.by_hand for run in runs(b))}
    assert len(old) == 3
    assert max(bundles[i].tested for i in old) < min(b.tested for i, b in bundles.items() if i not in old)
    assert all(point.verdict is Verdict.BY_HAND for i in old for point in demo.results[i].points)


def test_readings_by_hand_lie_below_rest_by_what_their_runs_lacked_of_it(demo: Demo) -> None:
    old = [(i, r) for i, result in demo.results.items() for p in result.points for r in p.runs if not r.traces]
    assert len(old) == 6
    for bundle, run in old:
        true, sensors = demo.truth[bundle]["runs"][run.id], demo.truth[bundle]["sensors"]
        reached = true["core_rise"] - true["remaining_k"] + sensors["core"] - sensors["room"]
        assert run.figures["core_rise"].estimate.value == pytest.approx(reached, abs=2.0)  # a scene swings by a kelvin


def test_several_bundles_have_two_or_three_mounts(demo: Demo) -> None:
    mounts = Counter(len(b.mounts) for b in demo.catalogue.bundles.values())
    assert mounts[2] >= 3
    assert mounts[3] >= 3
    assert mounts[1] >= 1


def test_one_run_is_still_drifting(demo: Demo) -> None:
    drifting = verdicts(demo, Verdict.DRIFTING)
    assert drifting == ["fenwick-slab-s-on-orrery-780 m1/power-60"]


def test_most_runs_are_settled_and_some_undecided(demo: Demo) -> None:
    assert len(verdicts(demo, Verdict.SETTLED)) > 0.9 * len(verdicts(demo, *Verdict))
    assert verdicts(demo, Verdict.UNDECIDED)


def verdicts(demo: Demo, *wanted: Verdict) -> list[str]:
    every = ((b, run) for b, result in demo.results.items() for p in result.points for run in p.runs)
    return [f"{b} {run.id}" for b, run in every if run.settlement.verdict in wanted]


def test_one_run_is_outside_the_ambient_band(demo: Demo) -> None:
    every = ((b, run) for b, result in demo.results.items() for p in result.points for run in p.runs)
    assert [f"{b} {run.id}" for b, run in every if run.ambient_in_band is False] == ["orrery-740-stock m1/overclock"]


def test_one_bundle_carries_a_correction(demo: Demo) -> None:
    corrected = {i: b.corrections for i, b in demo.catalogue.bundles.items() if b.corrections}
    assert list(corrected) == ["gritstone-twin-on-orrery-780"]


def test_correction_states_the_figure_that_the_tool_gives_now(demo: Demo) -> None:
    (correction,) = demo.catalogue.bundles["gritstone-twin-on-orrery-780"].corrections
    point, kind = correction.figure.split("/")
    result = demo.results["gritstone-twin-on-orrery-780"].point(point)
    assert result is not None
    assert correction.now == f"{result.figures[kind].estimate.value:.1f} K"


def test_one_pair_is_closer_than_its_mounting_scatter(demo: Demo) -> None:
    slab, riffle = (demo.truth[f"{c}-on-tarn-x9"] for c in ("fenwick-slab", "moorhen-riffle"))
    gap = abs(slab["points"]["stock"]["core_rise"] - riffle["points"]["stock"]["core_rise"])
    assert 0.1 < gap < slab["mount_spread_at_stock_k"]


def test_older_bundles_have_ambient_read_by_hand(demo: Demo) -> None:
    by_hand = {i for i, b in demo.catalogue.bundles.items() if all(r.ambient_c is not None for r in runs(b))}
    assert by_hand == {"orrery-780-stock-2024-05", "gritstone-twin-on-orrery-780", "orrery-740-stock"}


def test_two_runs_are_cut_out_of_one_log(demo: Demo) -> None:
    idle, stock, *_ = runs(demo.catalogue.bundles["orrery-740-stock"])
    assert idle.log == stock.log
    assert idle.to == stock.from_ == 1080


def test_some_runs_have_frames_and_the_warm_up_frame_is_left_out(demo: Demo) -> None:
    every = [run for b in demo.catalogue.bundles.values() for run in runs(b)]
    captured = [run for run in every if run.frames]
    assert 10 <= len(captured) < len(every) / 3
    assert sum(run.skip_frames for run in captured) >= 2


def test_a_borrowed_specimen_stands_apart(demo: Demo) -> None:
    assert {b.card_sample for b in demo.catalogue.bundles.values() if b.card == "tarn-x9"} == {"a", "b"}


def test_loop_bundles_have_coolant_heat_and_air_bundles_sound(demo: Demo) -> None:
    block = demo.results["fenwick-slab-on-tarn-x9"].point("stock")
    fins = demo.results["gritstone-twin-on-tarn-x9"].point("stock")
    assert block is not None
    assert fins is not None
    assert {"coolant_heat", "flow_rate"} <= set(block.figures)
    assert "sound_level" in fins.figures


def test_blemishes_of_real_loggers_are_repaired_and_reported(demo: Demo) -> None:
    found = {
        b: " ".join(text for p in result.points for run in p.runs for text in (*run.repairs, *run.settlement.notes))
        for b, result in demo.results.items()
    }
    assert "header" in found["gritstone-twin-on-orrery-780"]
    assert "missing" in found["fenwick-slab-s-on-orrery-780"]
    assert "break" in found["lapwing-loop-on-orrery-780"]
    assert "spikes" in found["gritstone-twin-on-tarn-x9"]


def test_most_bundles_have_notes_and_two_have_scripts(demo: Demo) -> None:
    names = list(demo.catalogue.bundles)
    assert sum((DEMO / "bundles" / n / "notes.md").is_file() for n in names) > 0.7 * len(names)
    assert sum((DEMO / "bundles" / n / "script.md").is_file() for n in names) >= 2


def test_episodes_point_at_invented_addresses_with_moments(demo: Demo) -> None:
    episodes = [b.episode for b in demo.catalogue.bundles.values() if b.episode]
    assert len(episodes) >= 12
    assert all(e.url and e.url.startswith("https://video.example/") and len(e.moments) >= 2 for e in episodes)
    numbers = [e.number for e in sorted(episodes, key=lambda e: e.published or dt.date.min)]
    assert numbers == sorted(set(numbers), key=numbers.index)


def test_archive_says_that_it_is_invented(demo: Demo) -> None:
    assert "invented" in demo.catalogue.archive.notice
    assert all("invented" in (card.maker or "") for card in demo.catalogue.cards.values())


@pytest.mark.parametrize("path", sorted(DEMO.rglob("*.yaml")) + sorted(DEMO.rglob("*.md")), ids=lambda p: p.name)
def test_addresses_are_reserved_for_examples(path: Path) -> None:
    # RFC 2606, section 2: the top-level domain .example.
    hosts = re.findall(r"https?://([^/\s\"')]+)", path.read_text(encoding="utf-8"))
    assert [h for h in hosts if not h.endswith(".example")] == []


def test_archive_stays_small() -> None:
    kept = [p for p in DEMO.rglob("*") if not any(part.startswith((".", "public")) for part in p.parts)]
    sizes = {p: p.stat().st_size for p in kept if p.is_file()}
    assert max(sizes.values()) < LARGEST_FILE
    assert sum(sizes.values()) < LARGEST_ARCHIVE
