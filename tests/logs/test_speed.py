"""Reading stays fast and small."""

from __future__ import annotations

import time
import tracemalloc

import numpy as np

from builder.figures import STANDARD_UNITS
from builder.model import ColumnMeaning, Reader, TimeColumn
from tests.support.logs import read

NAMES = [f"c{i}" for i in range(12)]
READER = Reader(
    id="bench",
    match=("t", *NAMES),
    time=TimeColumn(column="t"),
    columns={n: ColumnMeaning(quantity=q, unit=u) for n, (q, u) in zip(NAMES, STANDARD_UNITS.items(), strict=False)},
)


def _log(rows: int) -> bytes:
    values = np.random.default_rng(1).normal(60, 3, (rows, 12))
    lines = (f"{i}.0," + ",".join(f"{v:.2f}" for v in row) for i, row in enumerate(values))
    return ("\n".join([",".join(["t", *NAMES]), *lines]) + "\n").encode()


def test_an_hour_of_twelve_columns_takes_well_under_60_ms() -> None:
    data = _log(3600)
    read(data, READER)
    spent = []
    for _ in range(15):
        begin = time.process_time()
        found = read(data, READER)
        spent.append(time.process_time() - begin)
    assert found.log.time_s.size == 3600
    assert min(spent) < 0.06


def test_a_large_log_takes_a_few_times_its_size_of_memory() -> None:
    data = _log(6_000)
    tracemalloc.start()
    try:
        read(data, READER)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 20 * len(data)
