"""The commands as a tester types them: exit codes, streams, tables of 80 columns, records without gaps."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from builder import cli
from builder.commands.start import start_archive
from builder.core.results import FIGURES
from tests.support.command import in_terminal

BUNDLE = "example-tower-on-example-card"
Streams = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a new archive."""
    folder = tmp_path_factory.mktemp("cli") / "archive"
    start_archive(folder)
    return folder


def said(streams: Streams, *arguments: str | Path) -> tuple[int, str, str]:
    """Run a command and return exit code, standard output and standard error."""
    streams.readouterr()
    code = cli.run([str(a) for a in arguments])
    out, err = streams.readouterr()
    return code, out, err


def estimates(record: Any) -> Iterator[dict[str, Any]]:  # noqa: ANN401 - whatever JSON holds
    """Give every estimate in a record."""
    if isinstance(record, dict):
        if {"value", "unit", "u"} <= record.keys():
            yield record
        for value in record.values():
            yield from estimates(value)
    elif isinstance(record, list):
        for value in record:
            yield from estimates(value)


def test_a_new_archive_passes_check_at_once(root: Path, capsys: Streams) -> None:
    code, out, err = said(capsys, "check", root)
    assert (code, out) == (cli.FINE, "")
    assert "1 bundle read, no errors." in err
    assert "error[" not in err


def test_the_list_of_commands_cuts_no_sentence_off(capsys: Streams, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    code, out, _ = said(capsys, "--help")
    assert code == cli.FINE
    listed = out.split("Commands:\n")[1].splitlines()
    assert len(listed) == len(cli.commands.commands)
    assert [line for line in listed if not line.endswith(".") or line.endswith("...")] == []


def test_start_never_writes_into_a_folder_with_files(root: Path, capsys: Streams) -> None:
    code, _, err = said(capsys, "start", root)
    assert code == cli.BAD_INPUT
    assert "error[folder-not-empty] archive: the folder holds files already" in err


def test_reduce_fits_eighty_columns_and_names_every_run(root: Path, capsys: Streams) -> None:
    code, out, _ = said(capsys, "reduce", root, BUNDLE)
    assert code == cli.FINE
    assert max(map(len, out.splitlines())) <= 80
    for point in ("idle", "stock", "power-80", "overclock"):
        assert f" {point}" in out
    assert "…" not in out


def test_reduce_of_one_run_says_its_verdict_in_a_sentence(root: Path, capsys: Streams) -> None:
    code, out, _ = said(capsys, "reduce", root, BUNDLE, "--run", "m1/stock")
    assert code == cli.FINE
    assert "Settled: remaining approach" in out
    assert "limit 0.5 K" in out


def test_a_budget_lists_where_the_uncertainty_comes_from(root: Path, capsys: Streams) -> None:
    _, out, _ = said(capsys, "reduce", root, BUNDLE, "--run", "m1/stock", "--budget")
    assert "Core over ambient: where the uncertainty comes from" in out
    assert "sensor accuracy" in out
    assert "expanded (95 %)" in out


def test_json_carries_every_figure_with_unit_uncertainty_and_samples(root: Path, capsys: Streams) -> None:
    code, out, _ = said(capsys, "reduce", root, BUNDLE, "--json", "--budget")
    record = json.loads(out)
    assert code == cli.FINE
    runs = [run for point in record["points"] for run in point["runs"]]
    assert [run["run"] for run in runs] == ["m1/idle", "m1/stock", "m1/power-80", "m1/overclock"]
    for run in runs:
        for kind, figure in run["figures"].items():
            assert figure["unit"] == FIGURES[kind].unit
            assert figure["u"] > 0
            assert figure["samples"] > 0
    found = list(estimates(record))
    assert len(found) > 100
    for estimate in found:
        assert math.isfinite(estimate["value"])
        assert estimate["U95"] >= estimate["u"]


def test_combined_uncertainty_in_json_is_the_root_sum_of_its_budget(root: Path, capsys: Streams) -> None:
    _, out, _ = said(capsys, "reduce", root, BUNDLE, "--json", "--budget")
    for point in json.loads(out)["points"]:
        for figure in point["figures"].values():
            if figure["budget"]:
                total = math.hypot(*(line["contribution"] for line in figure["budget"]))
                assert figure["u"] == pytest.approx(total, rel=1e-6)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["reduce", "{}", "example-towr-on-example-card"], f'did you mean "{BUNDLE}"?'),
        (["reduce", "{}", BUNDLE, "--run", "m1/stok"], 'did you mean "m1/stock"?'),
        (["compare", "{}", BUNDLE, "nothing-like-it"], f"there are: {BUNDLE}"),
        (["compare", "{}", BUNDLE, BUNDLE, "--point", "stok"], 'did you mean "stock"?'),
    ],
)
def test_a_wrong_name_is_answered_with_the_nearest(
    root: Path, capsys: Streams, arguments: list[str], words: str
) -> None:
    code, out, err = said(capsys, *(a.format(root) for a in arguments))
    assert (code, out) == (cli.BAD_INPUT, "")
    assert words in err


@pytest.mark.parametrize(
    "arguments", [["nonsense"], ["reduce"], ["compare", ".", "one"], ["publish", "--colour", "red"]]
)
def test_usage_errors_end_with_two(capsys: Streams, arguments: list[str]) -> None:
    assert said(capsys, *arguments)[0] == cli.USAGE


def test_a_defect_is_shown_whole_and_ends_with_three(
    root: Path, capsys: Streams, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_arguments: object, **_options: object) -> None:
        raise ZeroDivisionError("made up")

    monkeypatch.setattr("builder.commands.check.reduce_archive", broken)
    code, _, err = said(capsys, "check", root)
    assert code == cli.DEFECT
    assert "ZeroDivisionError: made up" in err
    assert "a defect in Soakbook, not in your files" in err


def test_a_folder_that_is_no_archive_is_named(tmp_path: Path, capsys: Streams) -> None:
    code, _, err = said(capsys, "check", tmp_path)
    assert code == cli.BAD_INPUT
    assert "archive.yaml" in err


def test_publish_says_what_it_wrote(root: Path, tmp_path: Path, capsys: Streams) -> None:
    code, out, _ = said(capsys, "publish", root, "--out", tmp_path / "site", "--json")
    record = json.loads(out)
    assert code == cli.FINE
    pages = len(list((tmp_path / "site").rglob("*.html")))
    assert record["pages"] == pages
    assert record["files"] == sum(p.is_file() for p in (tmp_path / "site").rglob("*"))


LONG_NAMES = ("GPU core temperature as the driver reads it [°C]", "GPU board power, averaged over one second [W]")


def wide_log(folder: Path) -> tuple[Path, list[str]]:
    """Write a log whose columns need more than two lines of a terminal; return it with their names."""
    names = ["time [s]", *LONG_NAMES, *(f"spare reading number {n} of the board's controller" for n in range(3))]
    rows = [";".join([str(t), *(f"{40 + t + n}.123456789" for n in range(5))]) for t in range(20)]
    log = folder / "wide.csv"
    log.write_text("\n".join([";".join(names), *rows]) + "\n", encoding="utf-8")
    return log, names


def is_whole(out: str, names: list[str]) -> bool:
    """Whether every column stands on one line, from its whole name down to its last number."""
    table = out[: out.index("Paste this")].splitlines()
    found = [[line for line in table if line.startswith(name)] for name in names]
    ends = [lines[0].split()[-1] for lines in found if len(lines) == 1]
    return "\N{HORIZONTAL ELLIPSIS}" not in out and ends == ["19", *(f"{59 + n}.1235" for n in range(5))]


@pytest.mark.parametrize("columns", ["", "30", "40", "80", "120"])
def test_inspect_cuts_no_column_off_in_a_pipe(
    columns: str, tmp_path: Path, capsys: Streams, monkeypatch: pytest.MonkeyPatch
) -> None:
    log, names = wide_log(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    if columns:
        monkeypatch.setenv("COLUMNS", columns)
    code, out, _ = said(capsys, "inspect", log)
    assert code == cli.FINE
    assert is_whole(out, names), out


@pytest.mark.parametrize("columns", [30, 80])
def test_inspect_cuts_no_column_off_in_a_narrow_terminal(columns: int, tmp_path: Path) -> None:
    log, names = wide_log(tmp_path)
    out = in_terminal(columns, "inspect", log)
    assert is_whole(out, names), out


def test_inspect_proposes_to_skip_a_first_frame_of_many_times_the_median(tmp_path: Path, capsys: Streams) -> None:
    (tmp_path / "frames.csv").write_text("frametime_ms\n167.4\n" + "13.1\n" * 300, encoding="utf-8")
    _, out, _ = said(capsys, "inspect", tmp_path / "frames.csv")
    assert "the first frame took 167.4 ms, 13 times the median of 13.1 ms" in out
    assert "set skip_frames: 1" in out


def test_inspect_prints_a_block_that_reads_the_log(root: Path, capsys: Streams) -> None:
    log = root / "bundles" / BUNDLE / "m1-stock.csv"
    code, out, _ = said(capsys, "inspect", log)
    assert code == cli.FINE
    block = out[out.index("  - id:") :]
    bench = root / "benches/my-bench.yaml"
    text = bench.read_text(encoding="utf-8")
    try:
        bench.write_text(text[: text.index("readers:")] + "readers:\n" + block, encoding="utf-8")
        code, out, _ = said(capsys, "reduce", root, BUNDLE, "--run", "m1/stock", "--json")
    finally:
        bench.write_text(text, encoding="utf-8")
    assert code == cli.FINE
    assert "core_rise" in json.loads(out)["points"][0]["figures"]
