"""Photos: what is one, and what is left of it on a page."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from builder.core.errors import Problems, Span
from builder.pages.photo_sizes import Photo, photo_addresses
from builder.site.photos import Size, measure_photo, renditions
from tests.support.photos import SECRET, camera_jpeg, pattern, png_of_size, saved

WHERE = Span(file="bundles/b/bundle.yaml", line=9)


def measured(data: bytes, file: str = "a.jpg") -> tuple[Size | None, list[str]]:
    problems = Problems()
    return measure_photo(data, where=WHERE, file=file, problems=problems), [str(p) for p in problems]


def made(data: bytes) -> list[Image.Image]:
    size, problems = measured(data)
    assert size is not None, problems
    photo = Photo(address="photos/b/a", width=size.width, height=size.height)
    found = list(renditions(photo, data))
    assert [r.href for r in found] == [photo.href(w) for w in photo.widths]
    return [Image.open(io.BytesIO(r.data), formats=["WEBP"]) for r in found]


def quarters(image: Image.Image) -> list[str]:
    """The colour of each quarter by its strong channels, by rows: r, g, b, or rgb for white."""
    bands = image.convert("RGB").split()
    width, height = image.size
    places = [(x, y) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)]
    return ["".join(c for c, band in zip("rgb", bands, strict=True) if strong(band, place)) for place in places]


def strong(band: Image.Image, place: tuple[int, int]) -> bool:
    value = band.getpixel(place)
    assert isinstance(value, int)
    return value > 128


@pytest.mark.parametrize(
    ("width", "widths"),
    [(300, (300,)), (480, (480,)), (700, (480, 700)), (1600, (480, 960, 1600)), (4000, (480, 960, 1600))],
)
def test_a_photo_is_never_enlarged(width: int, widths: tuple[int, ...]) -> None:
    assert Photo(address="x", width=width, height=10).widths == widths


def test_every_width_has_its_own_size_and_keeps_the_shape() -> None:
    assert [i.size for i in made(saved(pattern(2000, 1000)))] == [(480, 240), (960, 480), (1600, 800)]


def test_nothing_that_the_camera_wrote_is_left() -> None:
    data = camera_jpeg()
    with Image.open(io.BytesIO(data)) as before:
        assert before.getexif().get_ifd(0x8825)  # the place is in the file
    assert data.count(SECRET) >= 3
    size, _ = measured(data)
    assert size is not None
    for rendition in renditions(Photo(address="x", width=size.width, height=size.height), data):
        assert SECRET not in rendition.data
        assert not {b"EXIF", b"XMP ", b"ICCP"} & set(chunks(rendition.data))
        with Image.open(io.BytesIO(rendition.data)) as after:
            assert not dict(after.getexif())
            assert not {"exif", "xmp", "icc_profile", "comment"} & set(after.info)


def chunks(webp: bytes) -> list[bytes]:
    """The names of the chunks of a WebP file (RIFF container)."""
    found, place = [], 12
    while place < len(webp):
        found.append(webp[place : place + 4])
        length = int.from_bytes(webp[place + 4 : place + 8], "little")
        place += 8 + length + length % 2
    return found


def test_chunks_are_found_where_there_are_some() -> None:
    exif = Image.Exif()
    exif[0x010F] = "maker"
    assert b"EXIF" in chunks(saved(pattern(20, 20), "WEBP", exif=exif.tobytes()))


# Source: EXIF 2.3, tag Orientation (value from memory): where the first row and column of the stored picture stand.
UPRIGHT = {
    1: ["r", "g", "b", "rgb"],
    2: ["g", "r", "rgb", "b"],
    3: ["rgb", "b", "g", "r"],
    4: ["b", "rgb", "r", "g"],
    5: ["r", "b", "g", "rgb"],
    6: ["b", "r", "rgb", "g"],
    7: ["rgb", "g", "b", "r"],
    8: ["g", "rgb", "r", "b"],
}


@pytest.mark.parametrize("orientation", UPRIGHT)
def test_a_photo_stands_upright_before_its_orientation_is_removed(orientation: int) -> None:
    (image,) = made(camera_jpeg(400, 200, orientation=orientation))
    assert image.size == ((400, 200) if orientation < 5 else (200, 400))
    assert quarters(image) == UPRIGHT[orientation]


@pytest.mark.parametrize(
    ("kind", "mode"), [("PNG", "P"), ("PNG", "L"), ("JPEG", "CMYK"), ("PNG", "RGBA"), ("WEBP", "RGB"), ("PNG", "1")]
)
def test_every_kind_of_picture_can_be_read(kind: str, mode: str) -> None:
    (image,) = made(saved(pattern(100, 60, mode), kind))
    assert image.size == (100, 60)
    if mode in ("P", "CMYK", "RGBA", "RGB"):
        assert quarters(image) == ["r", "g", "b", "rgb"]


def test_transparency_stays() -> None:
    clear = pattern(100, 60, "RGBA")
    clear.putalpha(0)
    assert made(saved(clear))[0].getchannel("A").getpixel((50, 30)) == 0


def test_a_broken_colour_profile_is_passed_over() -> None:
    (image,) = made(saved(pattern(100, 60), "PNG", icc_profile=b"no profile"))
    assert quarters(image) == ["r", "g", "b", "rgb"]


def test_the_same_photo_gives_the_same_bytes() -> None:
    data, photo = camera_jpeg(), Photo(address="x", width=1200, height=800)
    assert list(renditions(photo, data)) == list(renditions(photo, data))


# --- what is refused -------------------------------------------------------------------------------------------

TYPE = (
    'error[photo-type] bundles/b/bundle.yaml:9: "a.jpg" is not a JPEG, PNG or WebP picture\n'
    "hint: the ending of a name does not count, the content does; save it as one of these"
)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"GIF89a",
        saved(pattern(9, 9), "GIF"),
        saved(pattern(9, 9), "TIFF"),
        b"%PDF-1.7",
        b"MZ\x90",
    ],
    ids=["empty", "svg", "half a gif", "gif", "tiff", "pdf", "program"],
)
def test_what_is_no_photo_by_its_content_is_refused_whatever_its_name(data: bytes) -> None:
    assert measured(data) == (None, [TYPE])


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_that_breaks_off_is_refused(kind: str) -> None:
    whole = saved(pattern(800, 600).effect_spread(40), kind)
    size, problems = measured(whole[: len(whole) // 2])
    assert size is None
    assert len(problems) == 1
    assert problems[0].startswith('error[photo-broken] bundles/b/bundle.yaml:9: "a.jpg" is broken: ')
    assert problems[0].endswith("\nhint: export or copy the picture again")


@pytest.mark.parametrize(
    ("width", "height"),
    [(8000, 5001), (60_000, 60_000), (20_000, 10), (10, 20_000)],
    ids=["41 million pixels", "bomb", "too wide", "too high"],
)
def test_a_photo_with_too_many_pixels_is_refused_before_it_is_unpacked(width: int, height: int) -> None:
    size, problems = measured(png_of_size(width, height))
    assert size is None
    assert len(problems) == 1
    assert (
        'error[photo-too-large] bundles/b/bundle.yaml:9: "a.jpg" is too large: expected at most 40 million pixels'
        in problems[0]
    )


def test_forty_million_pixels_are_still_a_photo() -> None:
    assert measured(saved(Image.new("1", (8000, 5000)), "PNG")) == (Size(width=8000, height=5000), [])


# --- addresses -------------------------------------------------------------------------------------------------


def test_addresses_hold_plain_letters_only_and_never_meet() -> None:
    files = ["Ünter/Größe 1.JPG", "größe-1.png", "مبرد.webp", "..jpg", "a.b.jpg"]
    found = photo_addresses("b", files)
    assert len(set(found.values())) == len(files)
    assert all(a.isascii() and a.startswith("photos/b/") and " " not in a for a in found.values())


def test_a_page_is_offered_every_width() -> None:
    photo = Photo(address="photos/b/a", width=1000, height=500)
    assert photo.source("../") == "../photos/b/a-960.webp"
    assert (
        photo.sources("../")
        == "../photos/b/a-480.webp 480w, ../photos/b/a-960.webp 960w, ../photos/b/a-1000.webp 1000w"
    )
    assert (photo.shown_width, photo.shown_height) == (960, 480)
