"""Compressed logs: read like plain ones, with the same limits on what they unpack to."""

from __future__ import annotations

import gzip
import resource
import zlib

import pytest

from builder.logs import decode, inspect_log
from tests.support.logs import frames, read, reader

PLAIN = "t,core\n" + "".join(f"{i},{60 + i % 9}\n" for i in range(2000))
PACKED = gzip.compress(PLAIN.encode(), mtime=0)


def test_a_compressed_log_reads_like_the_plain_one() -> None:
    plain, packed = read(PLAIN, reader("core")), read(PACKED, reader("core"))
    assert packed.problems == ()
    assert packed.column("core_temperature") == plain.column("core_temperature")
    assert packed.log.lines == plain.log.lines
    halves = [gzip.compress(PLAIN[:900].encode(), mtime=0), gzip.compress(PLAIN[900:].encode(), mtime=0)]
    assert read(b"".join(halves), reader("core")).column("core_temperature") == plain.column("core_temperature")


def test_compressed_frames_are_read_and_a_compressed_log_is_inspected() -> None:
    packed = gzip.compress(("frame\n" + "10\n" * 200).encode(), mtime=0)
    found = frames(packed, [reader("frame", time={})])
    assert found.table is not None
    assert found.table.frame_ms.size == 200
    named = PLAIN.replace("t,core", "elapsed s,core temp C")
    inspection = inspect_log(gzip.compress(named.encode(), mtime=0), "m1-stock.csv.gz")
    assert inspection.rows == 2000
    assert "id: m1-stock\n" in inspection.reader_block()


def test_a_log_that_unpacks_without_end_is_one_error_and_takes_no_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decode, "MAX_BYTES", 1_000_000)
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    bomb = b"".join(packer.compress(b"0" * 1_000_000) for _ in range(400)) + packer.flush()
    assert len(bomb) < 500_000
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    error = read(bomb, reader("core")).error
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000  # KiB
    assert str(error) == (
        "error[log-too-large] bundles/x/m1-stock.csv: the log unpacks to more than the limit of 1 MB\n"
        "hint: split it, or log fewer columns"
    )


def test_many_members_share_one_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decode, "MAX_BYTES", 100_000)
    assert read(PACKED * 9, reader("core")).error.code == "log-too-large"


def test_a_damaged_file_is_an_error_and_one_that_breaks_off_is_read_as_far_as_it_goes() -> None:
    damaged = bytearray(PACKED)
    damaged[len(PACKED) // 2] ^= 0xFF
    assert read(bytes(damaged), reader("core")).error.code == "bad-gzip"
    cut = read(PACKED[: len(PACKED) * 3 // 4], reader("core"))
    assert [p.code for p in cut.problems] == ["cut-gzip"]
    assert 100 < cut.log.time_s.size < 2000
    assert cut.column("core_temperature")[:9] == [60 + i for i in range(9)]
