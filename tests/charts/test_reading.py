"""What charts bring for the scripts that read them."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from builder.charts.chart import Chart, Row
from builder.charts.labels import Json
from builder.charts.run import run_chart
from builder.core.quantity import Estimate, format_estimate, in_fahrenheit
from tests.support import chart_samples as samples

CHARTS = {chart.id: chart for chart in samples.every_chart()}


def trace() -> Row:
    found = CHARTS["run-stock"].data["trace"]
    assert isinstance(found, dict)
    return found


def lines() -> list[dict[str, Json]]:
    found = trace()["lines"]
    assert isinstance(found, list)
    return [line for line in found if isinstance(line, dict)]


def column(line: dict[str, Json], name: str) -> list[float | None]:
    found = line[name]
    assert isinstance(found, list)
    return [n if n is None else float(n) for n in found if n is None or isinstance(n, (int, float))]


@pytest.mark.parametrize("chart", CHARTS.values(), ids=lambda c: c.id)
def test_data_is_json_without_numbers_that_are_none(chart: Chart) -> None:
    json.dumps(chart.data, allow_nan=False)


@pytest.mark.parametrize("name", ["rise", "coolers", "power"])
def test_every_mark_that_says_a_temperature_says_it_in_fahrenheit_too(name: str) -> None:
    datasets = CHARTS[name].spec["datasets"]
    said = {row["d"] for rows in datasets.values() for row in rows if " K" in str(row.get("d", ""))}
    assert said == set(CHARTS[name].fahrenheit)
    assert said
    assert all(" °F" in words and " K" not in words for words in CHARTS[name].fahrenheit.values())


def test_fahrenheit_is_rounded_once_from_the_exact_figure() -> None:
    # By hand: 43.44 K is 78.192 in Fahrenheit degrees; from the rounded 43.4 it would be 78.12.
    rise = Estimate(value=43.44, u=0.97, unit="K")
    there = in_fahrenheit(rise)
    assert there is not None
    assert format_estimate(there).replace("\u00a0", " ") == "78.2 ± 3.4 °F"
    assert in_fahrenheit(replace(rise, unit="W")) is None


def test_columns_of_a_run_are_of_one_length_and_cover_it() -> None:
    _, end = samples_minutes()
    step = trace()["step"]
    assert isinstance(step, float)
    lengths = {len(column(line, name)) for line in lines() for name in ("mean", "low", "high")}
    assert len(lengths) == 1
    assert lengths.pop() * step / 60 >= end


def samples_minutes() -> tuple[float, float]:
    start, end = (float(n) for n in as_list(trace()["minutes"]))
    return start, end


def as_list(value: Json) -> list[float]:
    assert isinstance(value, list)
    return [float(n) for n in value if isinstance(n, (int, float))]


def test_the_lowest_and_highest_of_a_cell_enclose_its_mean() -> None:
    for line in lines():
        triples = zip(column(line, "low"), column(line, "mean"), column(line, "high"), strict=True)
        filled = [(low, mean, high) for low, mean, high in triples if low is not None and mean is not None and high]
        assert filled
        assert all(low - 0.06 <= mean <= high + 0.06 for low, mean, high in filled)


def test_a_mean_is_the_mean_of_its_cell() -> None:
    # By hand: 0, 1, ... 19 °C at 0, 1, ... 19 s are 4.5 in the first ten seconds and 14.5 in the next.
    run = samples.run_of()
    core = replace(run.temperatures[0], time_s=np.arange(20.0), values=np.arange(20.0))
    data = run_chart(replace(run, temperatures=(core,), power=None, window=None)).data["trace"]
    assert isinstance(data, dict)
    (line,) = data["lines"] if isinstance(data["lines"], list) else []
    assert isinstance(line, dict)
    assert line["mean"] == [4.5, 14.5, None]


def test_a_gap_in_the_log_is_missing_in_the_columns() -> None:
    core = next(line for line in lines() if line["name"] == "Core")
    filled = [value is not None for value in column(core, "mean")]
    assert not all(filled[: max(i for i, full in enumerate(filled) if full)])


def test_the_place_of_a_panel_is_that_of_the_picture() -> None:
    frames = trace()["frames"]
    assert isinstance(frames, dict)
    for frame in CHARTS["run-stock"].frames:
        place, spec = frames[frame.name], CHARTS["run-stock"].spec_for(frame)
        assert isinstance(place, dict)
        assert (place["left"], place["top"]) == (spec["padding"]["left"], spec["padding"]["top"])
        panels = place["panels"]
        assert isinstance(panels, list)
        for panel, drawn in zip(panels, spec["vconcat"], strict=True):
            assert as_list(panel)[1] == drawn["height"]
            assert place["width"] == drawn["width"]
        assert as_list(panels[1])[0] == pytest.approx(spec["vconcat"][0]["height"] + spec["spacing"], abs=0.11)
