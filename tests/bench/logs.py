"""Reading an hour of twelve columns, against splitting the same text into cells: `python -m tests.bench.logs`."""

from __future__ import annotations

import csv
import io
import sys
import time
from collections.abc import Callable

import numpy as np

from builder.archive.bench import ColumnMeaning, Reader, TimeColumn
from builder.core.results import Quantity
from tests.support.logs import read

NAMES = [f"c{i}" for i in range(12)]
READER = Reader(
    id="bench",
    match=("t", *NAMES),
    time=TimeColumn(column="t"),
    columns={n: ColumnMeaning(quantity=q, unit=q.unit) for n, q in zip(NAMES, Quantity, strict=False)},
)


def hour_log(rows: int = 3600) -> bytes:
    """Return a log of twelve columns of numbers."""
    values = np.random.default_rng(1).normal(60, 3, (rows, 12))
    lines = (f"{i}.0," + ",".join(f"{v:.2f}" for v in row) for i, row in enumerate(values))
    return ("\n".join([",".join(["t", *NAMES]), *lines]) + "\n").encode()


def best(work: Callable[[], object], tries: int = 15) -> float:
    """Return the least processor time of several tries, in seconds."""
    spent = []
    for _ in range(tries):
        begin = time.process_time()
        work()
        spent.append(time.process_time() - begin)
    return min(spent)


def main() -> None:
    """Print the times and their ratio."""
    data = hour_log()
    plain = best(lambda: list(csv.reader(io.StringIO(data.decode()))))
    ours = best(lambda: read(data, READER))
    sys.stdout.write(f"split into cells {plain * 1e3:.1f} ms, read_log {ours * 1e3:.1f} ms, ratio {ours / plain:.1f}\n")


if __name__ == "__main__":
    main()
