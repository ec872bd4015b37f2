"""Photos of an archive: where they may come from, and what is said of those that cannot be published."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from builder.core.errors import SoakbookError
from builder.site import words_problems
from builder.site.photos import Photos, photo_files, read_photos
from tests.support.photos import camera_jpeg, pattern, png_of_size, saved
from tests.support.small_archive import Folder, small_archive

BUNDLE = "bundles/slab-on-orrery"


@pytest.fixture
def archive(tmp_path: Path) -> Folder:
    return small_archive(tmp_path)


def add_photo(archive: Folder, entry: str, file: str = "", data: bytes = b"") -> None:
    text = (archive.root / BUNDLE / "bundle.yaml").read_text(encoding="utf-8")
    archive.write(f"{BUNDLE}/bundle.yaml", f"{text}photos:\n  - {entry}\n")
    if file:
        (archive.root / BUNDLE / file).write_bytes(data)


def read(archive: Folder, notes: str = "") -> Photos:
    loaded, _ = archive.load()
    assert loaded is not None
    return read_photos(archive.root, loaded, {"slab-on-orrery": notes})


def problems(archive: Folder, notes: str = "") -> list[str]:
    return [str(p) for p in read(archive, notes).problems]


def test_a_named_photo_is_published_in_its_widths_without_camera_data(archive: Folder) -> None:
    add_photo(
        archive,
        "{file: First Mount.JPG, alt: The first mount}",
        "First Mount.JPG",
        camera_jpeg(1200, 800, orientation=6),
    )
    photos = read(archive)
    files = dict(photo_files(archive.root, photos))
    assert list(files) == [f"photos/slab-on-orrery/first-mount-{w}.webp" for w in (480, 800)]
    assert photos.files == 2
    with Image.open(io.BytesIO(files["photos/slab-on-orrery/first-mount-480.webp"])) as image:
        assert image.size == (480, 720)
        assert not dict(image.getexif())


def test_a_photo_of_the_notes_is_published_once_though_named_twice(archive: Folder) -> None:
    add_photo(archive, "{file: a.png, alt: A}", "a.png", saved(pattern(100, 60)))
    photos = read(archive, "![A](a.png)\n\n![again](a.png)\n")
    assert list(photos.by_bundle["slab-on-orrery"]) == ["a.png"]
    assert photos.problems == ()


def test_photos_are_no_stray_files(archive: Folder) -> None:
    add_photo(archive, "{file: a.png, alt: A}", "a.png", saved(pattern(9, 9)))
    (archive.root / BUNDLE / "my photo.png").write_bytes(saved(pattern(9, 9)))
    archive.write(f"{BUNDLE}/notes.md", "![B](my%20photo.png)\n")
    assert archive.problems() == []
    (archive.root / BUNDLE / "forgotten.png").write_bytes(b"")
    assert archive.problems() == [
        f"notice[stray-file] {BUNDLE}/forgotten.png: not used: no run of bundle.yaml names it"
    ]


def test_alt_is_required_in_the_bundle_file(archive: Folder) -> None:
    add_photo(archive, "{file: a.png}", "a.png", saved(pattern(9, 9)))
    (problem,) = archive.problems()
    assert problem.startswith(f"error[missing-field] {BUNDLE}/bundle.yaml:11")
    assert "alt" in problem


def test_alt_is_required_in_the_notes(archive: Folder) -> None:
    (archive.root / BUNDLE / "a.png").write_bytes(saved(pattern(9, 9)))
    (problem,) = problems(archive, "Words.\n\nMore words,\n![](a.png) and more.\n")
    assert problem.splitlines() == [
        f'error[photo-no-alt] {BUNDLE}/notes.md:4: "a.png" has no words for those who do not see it',
        "hint: write ![what it shows](a.png)",
    ]


def test_a_picture_of_another_site_is_refused(archive: Folder) -> None:
    (problem,) = problems(archive, "![x](https://tracker.example/a.png)")
    assert problem.splitlines() == [
        f"error[photo-outside] {BUNDLE}/notes.md:1: a picture of another site tells that site who reads this page",
        "hint: put the file into the bundle's folder, and name it",
    ]


@pytest.mark.parametrize(
    ("file", "code"),
    [
        ("../../archive.yaml", "path-outside"),
        ("/etc/hostname", "path-outside"),
        ("file:///etc/hostname", "missing-file"),
        ("nowhere.png", "missing-file"),
        ("out.png", "path-outside"),
        ("sideways.png", "path-outside"),
        ("bundle.yaml", "photo-type"),
    ],
)
def test_a_photo_comes_from_the_bundles_own_folder(archive: Folder, tmp_path: Path, file: str, code: str) -> None:
    (tmp_path / "elsewhere.png").write_bytes(saved(pattern(9, 9)))
    (archive.root / "top.png").write_bytes(saved(pattern(9, 9)))
    (archive.root / BUNDLE / "out.png").symlink_to(tmp_path / "elsewhere.png")
    (archive.root / BUNDLE / "sideways.png").symlink_to(archive.root / "top.png")
    (problem,) = problems(archive, f"\n![x]({file})")
    assert problem.startswith(f"error[{code}] {BUNDLE}/notes.md:2: ")


def test_an_error_of_a_named_photo_points_at_its_line(archive: Folder) -> None:
    add_photo(archive, "{file: a.jpg, alt: A}", "a.jpg", b"GIF89a")
    (problem,) = problems(archive)
    assert problem.startswith(
        f'error[photo-type] {BUNDLE}/bundle.yaml:11:12: "a.jpg" is not a JPEG, PNG or WebP picture'
    )


def test_a_file_beyond_the_limit_is_refused_unread(archive: Folder) -> None:
    add_photo(archive, "{file: a.jpg, alt: A}")
    with (archive.root / BUNDLE / "a.jpg").open("wb") as file:
        file.truncate(25_000_001)
    assert problems(archive) == [
        f'error[too-large] {BUNDLE}/bundle.yaml:11:12: expected at most 25 MB, found 25.0 MB in "a.jpg"'
    ]


def test_a_decompression_bomb_is_refused(archive: Folder) -> None:
    add_photo(archive, "{file: a.png, alt: A}", "a.png", png_of_size(65_000, 65_000))
    (problem,) = problems(archive)
    assert problem.startswith(f"error[photo-too-large] {BUNDLE}/bundle.yaml:11:12")


def test_check_finds_what_publication_would(archive: Folder) -> None:
    archive.write(f"{BUNDLE}/notes.md", "![x](nowhere.png)\n")
    assert [p.code for p in words_problems(archive.root, archive.sound())] == ["missing-file"]


def test_a_photo_that_changes_while_the_site_is_written_stops_it(archive: Folder) -> None:
    add_photo(archive, "{file: a.png, alt: A}", "a.png", saved(pattern(9, 9)))
    photos = read(archive)
    (archive.root / BUNDLE / "a.png").write_bytes(b"")
    with pytest.raises(SoakbookError, match="photo-type"):
        list(photo_files(archive.root, photos))
