"""A site made with the cache is the site made without it, to the byte."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from builder.commands.cache import Cache, open_cache
from builder.commands.publish import publish
from builder.commands.start import start_archive

BUNDLE = "bundles/example-tower-on-example-card"


@pytest.fixture
def caches(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Cache]:
    """Every keeper that publishing opens, so that a test can ask what was made."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    opened: list[Cache] = []

    def open_one(root: Path) -> Cache:
        opened.append(open_cache(root))
        return opened[-1]

    monkeypatch.setattr("builder.commands.publish.open_cache", open_one)
    return opened


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    root = tmp_path / "archive"
    start_archive(root)
    return root


def site(root: Path) -> dict[str, bytes]:
    out = root / "public"
    publish(root, out)
    return {p.relative_to(out).as_posix(): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()}


def anew(root: Path) -> dict[str, bytes]:
    shutil.rmtree(root / ".soakbook-cache")
    return site(root)


def test_a_second_publication_makes_nothing_and_gives_the_same_bytes(archive: Path, caches: list[Cache]) -> None:
    first, second = site(archive), site(archive)
    assert caches[0].made["run"] == 4
    assert caches[1].made == {}
    assert second == first
    assert anew(archive) == first


def test_a_changed_log_is_reduced_again_and_nothing_else(archive: Path, caches: list[Cache]) -> None:
    site(archive)
    log = archive / BUNDLE / "m1-power-80.csv"
    lines = log.read_text(encoding="utf-8").splitlines(keepends=True)
    log.write_text("".join(lines[:-5]), encoding="utf-8")
    changed = site(archive)
    assert caches[1].made["run"] == 1
    assert changed == anew(archive)


def test_words_of_a_bundle_reduce_no_run(archive: Path, caches: list[Cache]) -> None:
    site(archive)
    file = archive / BUNDLE / "bundle.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("An invented result", "Another result"), encoding="utf-8")
    changed = site(archive)
    assert "run" not in caches[1].made
    assert 0 < caches[1].made["page"] < caches[0].made["page"]
    assert changed == anew(archive)


def test_a_changed_protocol_reduces_every_run(archive: Path, caches: list[Cache]) -> None:
    site(archive)
    bench = archive / "benches/my-bench.yaml"
    bench.write_text(bench.read_text(encoding="utf-8").replace("accuracy: 0.3", "accuracy: 0.5"), encoding="utf-8")
    changed = site(archive)
    assert caches[1].made["run"] == 4
    assert changed == anew(archive)


def test_a_damaged_cache_is_made_again(archive: Path, caches: list[Cache]) -> None:
    first = site(archive)
    for entry in (archive / ".soakbook-cache").glob("*/*"):
        entry.write_bytes(entry.read_bytes()[:50])
    assert site(archive) == first
    assert caches[1].made == caches[0].made


def test_an_archive_that_cannot_be_written_to_is_published_all_the_same(
    archive: Path, caches: list[Cache], tmp_path: Path
) -> None:
    (archive / ".soakbook-cache").write_text("in the way", encoding="utf-8")
    publish(archive, tmp_path / "out")
    assert (tmp_path / "out" / "index.html").is_file()
    assert caches[0].made["run"] == 4
