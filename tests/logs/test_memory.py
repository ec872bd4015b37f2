"""Reading stays small."""

from __future__ import annotations

import tracemalloc

from tests.bench.logs import READER, hour_log
from tests.support.logs import read


def test_a_large_log_takes_a_few_times_its_size_of_memory() -> None:
    data = hour_log(6_000)
    tracemalloc.start()
    try:
        read(data, READER)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 20 * len(data)
