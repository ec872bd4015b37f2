"""What `check` says a bundle lacks before it is published."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from builder.archive import load_archive
from builder.commands.check import check_archive
from builder.commands.publish import publish
from builder.commands.readiness import readiness
from builder.core.errors import Problem, Problems, Severity, SoakbookError
from builder.core.files import content_dir
from builder.core.results import CORE, BundleResult, PointResult, Quantity, RunResult, Settlement, Trace, Verdict

POWER = Quantity.BOARD_POWER
BUNDLE = "bundles/example-tower-on-example-card"
FILE = f"{BUNDLE}/bundle.yaml"
CODES = {"no-run-yet", "remount-missing", "disclosure-missing", "check-not-ticked", "ambient-outside-band"}


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """A new archive with a protocol of its own, so that its choices can be changed."""
    root = tmp_path / "archive"
    shutil.copytree(content_dir() / "starter", root)
    (root / "protocols").mkdir()
    text = (content_dir() / "protocols" / "brief-5.yaml").read_text(encoding="utf-8")
    (root / "protocols" / "own-5.yaml").write_text(text, encoding="utf-8")
    swap(root / FILE, "protocol: brief-5", "protocol: own-5")
    return root


def swap(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")


def lacking(root: Path) -> list[Problem]:
    return [p for p in check_archive(root).problems if p.code in CODES | {"pad-compression"}]


def told(root: Path) -> list[str]:
    return [f"{p.severity}[{p.code}] {p.where}: {p.message}" for p in lacking(root)]


def test_a_whole_bundle_lacks_nothing(archive: Path) -> None:
    assert told(archive) == []


def test_points_without_a_run_are_listed_once(archive: Path) -> None:
    swap(archive / FILE, "      - {point: idle, log: m1-idle.csv}\n", "")
    swap(archive / FILE, "      - {point: overclock, log: m1-overclock.csv}\n", "")
    assert told(archive) == [f"notice[no-run-yet] {FILE}:13:3: no run yet at idle; optional: overclock"]


def test_optional_points_without_a_run_are_a_notice_whatever_the_protocol_requires(archive: Path) -> None:
    swap(archive / FILE, "      - {point: overclock, log: m1-overclock.csv}\n", "")
    swap(archive / "protocols/own-5.yaml", "mounts: 1", "mounts: 1\nrequire: {points: error}")
    assert told(archive) == [f"notice[no-run-yet] {FILE}:13:3: no run yet at optional overclock"]


def test_a_power_limit_that_the_card_refuses_is_not_missed(archive: Path) -> None:
    swap(archive / FILE, "      - {point: power-80, log: m1-power-80.csv}\n", "")
    card = archive / "cards/example-card.yaml"
    card.write_text("name: Example card\nboard_power_w: 200\npower_limit_pct: {min: 90, max: 110}\n", encoding="utf-8")
    assert [p.code for p in lacking(archive)] == []


def test_a_remount_that_is_asked_for_and_missing(archive: Path) -> None:
    swap(archive / "protocols/own-5.yaml", "mounts: 1", "mounts: 2")
    message = "the protocol asks for 2 mounts, and there is 1"
    assert told(archive) == [f"notice[remount-missing] {FILE}:13:3: {message}"]


def test_a_missing_disclosure(archive: Path) -> None:
    swap(archive / FILE, "supplied_by: bought\n", "")
    assert told(archive) == [f"notice[disclosure-missing] {FILE}:1:1: it does not say where the cooler came from"]


def test_checks_that_are_not_ticked(archive: Path) -> None:
    swap(archive / FILE, "screws_crosswise: true", "screws_crosswise: false")
    assert told(archive) == [f"notice[check-not-ticked] {FILE}:11:11: not ticked: screws_crosswise"]


def test_an_ambient_outside_the_band(archive: Path) -> None:
    swap(archive / "protocols/own-5.yaml", "{min_c: 18.0, max_c: 28.0}", "{min_c: 18.0, max_c: 19.0}")
    found = lacking(archive)
    assert [p.where.line for p in found] == [14, 15, 16, 17]
    assert {p.code for p in found} == {"ambient-outside-band"}
    assert found[0].message.endswith("is outside the band of 18 to 19 °C")


def assumed(root: Path, *bundles: str) -> list[Problem]:
    """The notices of accuracies that are assumed where these bundles logged core temperature and board power."""
    problems = Problems()
    loaded = load_archive(root, problems)
    assert loaded
    assert not list(problems)
    logged = {q: Trace(quantity=q, time_s=np.zeros(1), values=np.zeros(1)) for q in (CORE.quantity, POWER)}
    settlement = Settlement(verdict=Verdict.SETTLED, message="", tau_s=150.0, limit_k=0.5)
    run = RunResult(mount=1, point="stock", log="x.csv", settlement=settlement, figures={}, traces=logged)
    point = PointResult(
        point="stock", name="Stock", runs=(run,), figures={}, changes={}, verdict=settlement.verdict, mount_note=""
    )
    results = {b: BundleResult(bundle=b, points=(point,), lines={}, mounts=1) for b in bundles}
    return [p for p in readiness(loaded, results) if p.code == "accuracy-assumed"]


def test_accuracies_that_are_assumed_are_noticed_once_a_bench_until_they_are_stated(archive: Path) -> None:
    bench, first = archive / "benches/my-bench.yaml", "example-tower-on-example-card"
    shutil.copytree(archive / BUNDLE, archive / "bundles/second")
    assert assumed(archive, first, "second") == []
    swap(bench, "{quantity: core_temperature, accuracy: 1.0}", "{quantity: core_temperature}")
    swap(bench, "  - {quantity: board_power, accuracy_pct: 2.0, averaging: averaged}\n", "")
    (found,) = assumed(archive, first, "second")
    assert (found.severity, str(found.where)) == (Severity.NOTICE, "benches/my-bench.yaml:10:3")
    assert found.message == (
        "no accuracy is stated, so one is assumed: core_temperature \N{PLUS-MINUS SIGN}2 K, "
        "board_power \N{PLUS-MINUS SIGN}5 %"
    )
    assert found.hint == "state what the sensor's maker states: accuracy, or accuracy_pct, in its line below sensors"
    # The hint cures it.
    swap(bench, "sensors:\n", "sensors:\n  - {quantity: board_power, accuracy_pct: 3.0}\n")
    swap(bench, "{quantity: core_temperature}", "{quantity: core_temperature, accuracy: 1.5}")
    assert assumed(archive, first, "second") == []


def test_a_sensor_that_came_after_the_test_is_told_with_its_place(archive: Path) -> None:
    line = "{quantity: ambient_temperature, accuracy: 0.3"
    swap(archive / "benches/my-bench.yaml", f"{line}}}", f"{line}, from: 2026-02-01}}")
    (found,) = (p for p in check_archive(archive).problems if p.code == "no-sensor-yet")
    assert str(found) == (
        "warning[no-sensor-yet] benches/my-bench.yaml:13:58: ambient_temperature was read on 2026-01-10, and its first "
        "sensor counts from 2026-02-01: an accuracy is assumed before that\n"
        "hint: remove from where the sensor was there already, or list the one before it"
    )


def test_a_reading_that_no_log_holds_is_not_missed(archive: Path) -> None:
    swap(archive / "benches/my-bench.yaml", "{quantity: memory_temperature, accuracy: 1.5}", "{quantity: flow_rate}")
    assert assumed(archive, "example-tower-on-example-card") == []


def test_pads_that_are_too_loose_or_too_tight(archive: Path) -> None:
    pads = "[{where: memory, thickness_mm: 1.0, gap_mm: 0.95}, {where: coils, thickness_mm: 2.0, gap_mm: 1.0}]"
    swap(archive / FILE, "assembly:\n", f"assembly:\n  pads: {pads}\n")
    assert [(p.severity, p.message) for p in lacking(archive)] == [
        (Severity.NOTICE, "pad on memory: compressed by 5 % only: contact may be poor"),
        (
            Severity.NOTICE,
            "pad on coils: compressed by 50 %: this much can bend the board and keep the cooler off the chip",
        ),
    ]


@pytest.mark.parametrize(
    ("field", "code", "change"),
    [
        ("points", "no-run-yet", ("      - {point: idle, log: m1-idle.csv}\n", "")),
        ("disclosure", "disclosure-missing", ("supplied_by: bought\n", "")),
        ("checks", "check-not-ticked", ("screws_crosswise: true, ", "")),
        ("remount", "remount-missing", ("", "")),
        ("ambient_band", "ambient-outside-band", ("", "")),
    ],
)
def test_a_protocol_may_make_it_an_error_that_stops_publication(
    archive: Path, field: str, code: str, change: tuple[str, str]
) -> None:
    protocol = archive / "protocols/own-5.yaml"
    swap(protocol, "mounts: 1", f"mounts: {2 if field == 'remount' else 1}\nrequire: {{{field}: error}}")
    if field == "ambient_band":
        swap(protocol, "max_c: 28.0", "max_c: 19.0")
    if change[0]:
        swap(archive / FILE, *change)
    assert {(p.severity, p.code) for p in lacking(archive)} == {(Severity.ERROR, code)}
    with pytest.raises(SoakbookError) as refused:
        publish(archive, archive / "public")
    assert {p.code for p in refused.value.problems} == {code}
    assert not (archive / "public").exists()


def test_requirements_are_notice_or_error(archive: Path) -> None:
    swap(archive / "protocols/own-5.yaml", "mounts: 1", "mounts: 1\nrequire: {checks: warning}")
    (problem,) = [p for p in check_archive(archive).problems if p.severity is Severity.ERROR]
    assert problem.message == '"checks": expected notice or error, found "warning"'
