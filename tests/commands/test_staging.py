"""The new site takes the old one's place only when it is whole, and nothing else is ever replaced."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.commands.staging import MARKER, Staged, staged_output
from builder.core.errors import SoakbookError


def make(out: Path, text: str) -> None:
    with staged_output(out) as staged:
        staged.write("index.html", text.encode())
        staged.write(MARKER, b"{}")


def test_a_new_site_replaces_the_old_one_whole(tmp_path: Path) -> None:
    out = tmp_path / "public"
    make(out, "one")
    (out / "left-over.html").write_text("old")
    make(out, "two")
    assert (out / "index.html").read_text() == "two"
    assert sorted(p.name for p in out.iterdir()) == ["index.html", MARKER]
    assert [p.name for p in tmp_path.iterdir()] == ["public"]


def _half(staged: Staged) -> None:
    staged.write("index.html", b"two")
    staged.write("../elsewhere", b"")


def test_a_failure_half_way_leaves_the_old_site_and_no_litter(tmp_path: Path) -> None:
    out = tmp_path / "public"
    make(out, "one")
    with pytest.raises(ValueError, match="leaves the folder"), staged_output(out) as staged:
        _half(staged)
    assert (out / "index.html").read_text() == "one"
    assert [p.name for p in tmp_path.iterdir()] == ["public"]


def test_a_folder_of_the_testers_own_is_never_replaced(tmp_path: Path) -> None:
    out = tmp_path / "photos"
    out.mkdir()
    (out / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(SoakbookError) as raised:
        make(out, "one")
    assert str(raised.value) == (
        "error[target-not-a-site] photos: holds files that are not a published site, so it is left alone\n"
        "hint: choose another folder with --out, or move what is there"
    )
    assert (out / "holiday.jpg").exists()


def test_a_file_in_the_way_is_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "public"
    out.write_text("mine")
    with pytest.raises(SoakbookError, match="is not a folder"):
        make(out, "one")
    assert out.read_text() == "mine"


def test_a_link_in_the_way_is_left_alone(tmp_path: Path) -> None:
    real = tmp_path / "real"
    make(real, "one")
    (tmp_path / "public").symlink_to(real)
    with pytest.raises(SoakbookError, match="is not a folder"):
        make(tmp_path / "public", "two")


@pytest.mark.parametrize("path", ["../escaped.html", "/escaped.html", "a/../../escaped.html"])
def test_a_page_outside_the_site_is_refused(tmp_path: Path, path: str) -> None:
    with pytest.raises(ValueError, match="leaves the folder"), staged_output(tmp_path / "public") as staged:
        staged.write(path, b"x")


def test_an_empty_folder_may_become_a_site(tmp_path: Path) -> None:
    (tmp_path / "public").mkdir()
    make(tmp_path / "public", "one")
    assert (tmp_path / "public" / "index.html").exists()
