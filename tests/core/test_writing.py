"""A file or folder is there whole, or what stood there before is."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from builder.core.writing import whole_folder, write_whole


def full(*_: object, **__: object) -> Path:
    raise OSError(28, "No space left on device")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def fill(target: Path, text: str, *, replace: bool = False) -> None:
    with whole_folder(target, replace=replace) as made:
        (made / "a.txt").write_text(text, encoding="utf-8")


def test_a_file_is_written_and_replaced_with_its_mode(tmp_path: Path) -> None:
    target = tmp_path / "a.json"
    write_whole(target, b"one")
    write_whole(target, b"two", mode=0o600, lasting=False)
    assert target.read_bytes() == b"two"
    assert target.stat().st_mode & 0o777 == 0o600
    assert names(tmp_path) == ["a.json"]


@pytest.mark.parametrize("step", ["fsync", "fdopen"])
def test_a_full_disk_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    target = tmp_path / "a.json"
    write_whole(target, b"one")
    monkeypatch.setattr(os, step, full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(target, b"two")
    assert target.read_bytes() == b"one"
    assert names(tmp_path) == ["a.json"]


def test_a_long_file_name_can_be_written(tmp_path: Path) -> None:
    write_whole(tmp_path / ("a" * 255), b"x")
    assert names(tmp_path) == ["a" * 255]


def test_a_folder_is_made_with_those_above_it(tmp_path: Path) -> None:
    fill(tmp_path / "b" / "c", "one")
    assert (tmp_path / "b" / "c" / "a.txt").read_text(encoding="utf-8") == "one"
    assert names(tmp_path / "b") == ["c"]


def test_a_folder_that_exists_is_replaced_only_when_asked(tmp_path: Path) -> None:
    target = tmp_path / "site"
    fill(target, "one")
    (target / "left-over.txt").write_text("old", encoding="utf-8")
    with pytest.raises(OSError, match="not empty"):
        fill(target, "two")
    assert names(target) == ["a.txt", "left-over.txt"]
    fill(target, "two", replace=True)
    assert names(target) == ["a.txt"]
    assert names(tmp_path) == ["site"]


def test_a_folder_whose_making_fails_leaves_the_old_one(tmp_path: Path) -> None:
    target = tmp_path / "site"
    fill(target, "one")
    with pytest.raises(OSError, match="No space left"), whole_folder(target, replace=True):
        full()
    assert names(target) == ["a.txt"]
    assert names(tmp_path) == ["site"]


def test_a_folder_that_cannot_take_its_place_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "site"
    fill(target, "one")
    rename = Path.rename

    def fails_for_the_new_one(path: Path, to: Path) -> Path:
        return full() if path.name == "new" else rename(path, to)

    monkeypatch.setattr(Path, "rename", fails_for_the_new_one)
    with pytest.raises(OSError, match="No space left"):
        fill(target, "two", replace=True)
    assert (target / "a.txt").read_text(encoding="utf-8") == "one"
    assert names(tmp_path) == ["site"]
