"""An entry is what was put there by this user, whole, or it is not there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from builder.commands.cache.store import FOLDER, Store, open_store

KEY = "ab" + 62 * "0"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    found = open_store(tmp_path / "archive", tmp_path / "state")
    assert found
    return found


def entries(store: Store) -> list[Path]:
    return [path for path in store.folder.glob("*/*") if path.is_file()]


def test_what_was_put_is_got(store: Store) -> None:
    assert store.get(KEY) is None
    store.put(KEY, b"data")
    assert store.get(KEY) == b"data"
    assert store.get(KEY[::-1]) is None


@pytest.mark.parametrize("damage", [b"", b"x", b"\0" * 200])
def test_a_damaged_entry_is_a_miss_and_is_replaced(store: Store, damage: bytes) -> None:
    store.put(KEY, b"data")
    (entry,) = entries(store)
    entry.write_bytes(damage)
    assert store.get(KEY) is None
    store.put(KEY, b"data")
    assert store.get(KEY) == b"data"


def test_a_flipped_bit_anywhere_is_a_miss(store: Store) -> None:
    store.put(KEY, b"data")
    (entry,) = entries(store)
    whole = entry.read_bytes()
    for place in range(len(whole)):
        entry.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        assert store.get(KEY) is None


def test_an_entry_that_somebody_else_made_is_a_miss(store: Store, tmp_path: Path) -> None:
    theirs = open_store(tmp_path / "archive", tmp_path / "their-state")
    assert theirs
    theirs.put(KEY, b"<script>")
    assert store.get(KEY) is None


def test_an_entry_under_another_key_is_a_miss(store: Store) -> None:
    store.put(KEY, b"data")
    (entry,) = entries(store)
    entry.rename(entry.with_name(entry.name[:-1] + "1"))
    assert store.get(KEY[:-1] + "1") is None


def test_the_folder_ignores_itself_in_version_control(store: Store) -> None:
    store.put(KEY, b"data")
    assert store.folder.name == FOLDER
    assert (store.folder / ".gitignore").read_text(encoding="utf-8") == "*\n"


def test_nothing_half_written_is_left(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    store.put(KEY, b"data")
    assert entries(store) == []
    assert store.get(KEY) is None


def test_the_secret_is_for_its_user_alone(store: Store, tmp_path: Path) -> None:
    secret = tmp_path / "state" / "soakbook" / "cache-secret"
    assert secret.stat().st_mode & 0o077 == 0
    again = open_store(tmp_path / "archive", tmp_path / "state")
    assert again == store


def test_without_a_secret_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "state").write_text("a file where a folder should be", encoding="utf-8")
    assert open_store(tmp_path / "archive", tmp_path / "state") is None


def test_a_cache_that_leads_out_of_the_archive_is_not_used(tmp_path: Path) -> None:
    (tmp_path / "archive").mkdir()
    (tmp_path / "archive" / FOLDER).symlink_to(tmp_path)
    assert open_store(tmp_path / "archive", tmp_path / "state") is None


def test_the_longest_unused_goes_first(store: Store) -> None:
    keys = [f"{n:02d}" + 62 * "0" for n in range(4)]
    for age, key in enumerate(keys):
        store.put(key, os.urandom(1000))
        os.utime(store.folder / key[:2] / key[2:], (1000 + age, 1000 + age))
    assert store.get(keys[0])  # used just now
    store.prune(limit=2100)
    assert [bool(store.get(key)) for key in keys] == [True, False, False, True]
