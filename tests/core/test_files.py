"""Reading inside one folder."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from builder.archive import load_yaml
from builder.core.errors import Problems, Span
from builder.core.files import Entry, content_dir, file_exists, list_folder, read_bytes, themes_dir

HERE = Span(file="bundle.yaml", line=3, column=7)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    folder = tmp_path / "archive"
    (folder / "logs").mkdir(parents=True)
    (folder / "logs" / "m1-stock.csv").write_bytes(b"t;w\r\n")
    (tmp_path / "secret.txt").write_text("secret", encoding="utf-8")
    return folder


def read(root: Path, relative: str, *, limit: int = 1000) -> tuple[bytes | None, list[str]]:
    problems = Problems()
    data = read_bytes(root, relative, problems, HERE, limit=limit)
    return data, [str(p) for p in problems]


def refusal(root: Path, relative: str, *, limit: int = 1000) -> str:
    data, problems = read(root, relative, limit=limit)
    assert data is None
    assert len(problems) == 1
    return problems[0]


def test_a_file_is_returned_as_it_is(root: Path) -> None:
    assert read(root, "logs/m1-stock.csv") == (b"t;w\r\n", [])


OUTSIDE_HINT = "\nhint: name a file below this folder, with forward slashes"


@pytest.mark.parametrize(
    ("relative", "reason"),
    [
        ("../secret.txt", '"../secret.txt" leads out of its folder'),
        ("logs/../logs/m1-stock.csv", '"logs/../logs/m1-stock.csv" leads out of its folder'),
        ("..", '".." leads out of its folder'),
        ("/etc/hostname", '"/etc/hostname" is an absolute path'),
        ("C:/logs/a.csv", '"C:/logs/a.csv" is an absolute path'),
        ("logs\\m1-stock.csv", '"logs\\m1-stock.csv" holds a backslash'),
        ("..\\secret.txt", '"..\\secret.txt" holds a backslash'),
        ("a\0b", '"a�b" holds a character that no file name should have'),
        ("a\nb", '"a�b" holds a character that no file name should have'),
        ("\ud800", '"�" holds a character that no file name should have'),
        ("", '"" is no file name'),
        (" ", '" " is no file name'),
    ],
)
def test_paths_that_leave_the_archive_are_refused(root: Path, relative: str, reason: str) -> None:
    assert refusal(root, relative) == f"error[path-outside] bundle.yaml:3:7: {reason}{OUTSIDE_HINT}"


def test_a_link_to_a_file_outside_is_refused(root: Path) -> None:
    (root / "a.csv").symlink_to(root.parent / "secret.txt")
    expected = 'error[path-outside] bundle.yaml:3:7: "a.csv" is a link that leads out of the archive'
    assert refusal(root, "a.csv") == expected


def test_a_file_in_a_folder_that_links_outside_is_refused(root: Path) -> None:
    (root / "out").symlink_to(root.parent)
    expected = 'error[path-outside] bundle.yaml:3:7: "out/secret.txt" is a link that leads out of the archive'
    assert refusal(root, "out/secret.txt") == expected


def test_a_sibling_folder_that_shares_the_archives_name_is_outside(root: Path) -> None:
    other = root.parent / "archive-2"
    other.mkdir()
    (other / "a.csv").write_text("x", encoding="utf-8")
    (root / "a.csv").symlink_to(other / "a.csv")
    assert "path-outside" in refusal(root, "a.csv")


def test_a_link_inside_the_archive_is_followed(root: Path) -> None:
    (root / "a.csv").symlink_to(root / "logs" / "m1-stock.csv")
    assert read(root, "a.csv") == (b"t;w\r\n", [])


def test_an_archive_that_is_itself_a_link_is_read(root: Path) -> None:
    (root.parent / "link").symlink_to(root)
    assert read(root.parent / "link", "logs/m1-stock.csv") == (b"t;w\r\n", [])


def test_a_loop_of_links_cannot_be_read(root: Path) -> None:
    (root / "a.csv").symlink_to(root / "b.csv")
    (root / "b.csv").symlink_to(root / "a.csv")
    expected = 'error[unreadable-file] bundle.yaml:3:7: "a.csv" cannot be read: too many levels of symbolic links'
    assert refusal(root, "a.csv") == expected


def test_a_missing_file_is_reported_with_the_nearest_name(root: Path) -> None:
    expected = (
        'error[missing-file] bundle.yaml:3:7: "logs/m1-stok.csv" does not exist\nhint: did you mean "m1-stock.csv"?'
    )
    assert refusal(root, "logs/m1-stok.csv") == expected


def test_a_file_in_a_missing_folder_is_reported_with_the_folder(root: Path) -> None:
    expected = (
        'error[missing-file] bundle.yaml:3:7: "log/m1-stock.csv" does not exist\n'
        'hint: the folder "log" does not exist either'
    )
    assert refusal(root, "log/m1-stock.csv") == expected


def test_a_path_through_a_file_is_missing(root: Path) -> None:
    assert refusal(root, "logs/m1-stock.csv/x").startswith(
        'error[missing-file] bundle.yaml:3:7: "logs/m1-stock.csv/x" does not exist'
    )


def test_a_folder_is_no_file(root: Path) -> None:
    assert refusal(root, "logs") == 'error[not-a-file] bundle.yaml:3:7: "logs" is a folder'


def test_a_pipe_is_refused_without_waiting_for_it(root: Path) -> None:
    os.mkfifo(root / "pipe")
    assert refusal(root, "pipe") == 'error[not-a-file] bundle.yaml:3:7: "pipe" is no ordinary file'


def test_a_file_above_the_limit_is_refused_unread(root: Path) -> None:
    with (root / "big.csv").open("wb") as file:
        file.truncate(2_500_000)
    expected = 'error[too-large] bundle.yaml:3:7: expected at most 1 MB, found 2.5 MB in "big.csv"'
    assert refusal(root, "big.csv", limit=1_000_000) == expected


def test_a_yaml_file_above_one_megabyte_is_refused(root: Path) -> None:
    (root / "a.yaml").write_text("a: 1\n" + "#" * 1_000_000, encoding="utf-8")
    problems = Problems()
    assert load_yaml(root, "a.yaml", problems) is None
    assert [str(p) for p in problems] == ['error[too-large] a.yaml: expected at most 1 MB, found 1.0 MB in "a.yaml"']


def test_a_name_that_is_too_long_for_the_system_cannot_be_read(root: Path) -> None:
    assert "cannot be read: file name too long" in refusal(root, "a" * 300)


def test_existence_is_asked_below_a_folder_and_named_without_it(root: Path) -> None:
    problems = Problems()
    assert file_exists(root, "m1-stock.csv", problems, HERE, folder="logs")
    assert not file_exists(root, "m2-stock.csv", problems, HERE, folder="logs")
    assert not file_exists(root, "../../secret.txt", problems, HERE, folder="logs")
    assert [p.message for p in problems] == [
        '"m2-stock.csv" does not exist',
        '"../../secret.txt" leads out of its folder',
    ]


def test_a_folder_is_listed_by_name_without_hidden_entries(root: Path) -> None:
    (root / ".hidden").write_text("", encoding="utf-8")
    (root / "archive.yaml").write_text("", encoding="utf-8")
    problems = Problems()
    entries = list_folder(root, ".", problems)
    assert entries == (Entry(name="archive.yaml", is_folder=False), Entry(name="logs", is_folder=True))
    assert len(problems) == 0


def test_a_folder_that_does_not_exist_has_no_entries(root: Path) -> None:
    problems = Problems()
    assert list_folder(root, "cards", problems) == ()
    assert len(problems) == 0


def test_a_folder_that_links_outside_is_refused(root: Path) -> None:
    (root / "cards").symlink_to(root.parent)
    problems = Problems()
    assert list_folder(root, "cards", problems) is None
    assert [str(p) for p in problems] == [
        "error[path-outside] cards: the folder is a link that leads out of the archive"
    ]


def test_a_file_in_the_place_of_a_folder_is_reported(root: Path) -> None:
    (root / "cards").write_text("", encoding="utf-8")
    problems = Problems()
    assert list_folder(root, "cards", problems) is None
    assert [str(p) for p in problems] == ["error[not-a-folder] cards: expected a folder, found a file"]


def test_default_words_and_themes_are_found_beside_the_checkout() -> None:
    assert (content_dir() / "protocols").is_dir()
    assert themes_dir().is_dir()
