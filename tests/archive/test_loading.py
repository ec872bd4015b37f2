"""A whole archive: everything at once, one cause once, in order."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.archive import load_archive, load_sound_parts
from builder.archive.catalogue import CoolerKind
from builder.core.errors import Problems, Span
from builder.core.files import content_dir
from tests.support.small_archive import Folder

CARD = "cards/orrery-780.yaml"
BUNDLE = "bundles/slab-on-orrery/bundle.yaml"


def test_a_sound_archive_is_loaded_whole(archive: Folder) -> None:
    catalogue = archive.sound().catalogue
    assert catalogue.archive.channel == "Cold Lantern"
    assert catalogue.cards["orrery-780"].board_power_w == 285
    assert catalogue.coolers["fenwick-slab"].kind is CoolerKind.WATER_BLOCK
    assert list(catalogue.benches) == ["open-frame"]
    assert list(catalogue.protocols) == ["soak"]
    assert [run.log for run in catalogue.bundles["slab-on-orrery"].mounts[0].runs] == ["idle.csv", "stock.csv"]


def test_parts_are_in_order_of_their_ids(archive: Folder) -> None:
    for name in ("tarn-x9", "b", "z", "a-1"):
        archive.write(f"cards/{name}.yaml", "name: x\nboard_power_w: 100\n")
    assert list(archive.sound().catalogue.cards) == ["a-1", "b", "orrery-780", "tarn-x9", "z"]


@pytest.mark.parametrize(
    ("place", "span"),
    [
        (("bundle", "slab-on-orrery", "card"), Span(file=BUNDLE, line=1, column=7)),
        (("bundle", "slab-on-orrery", "mounts", 0, "runs", 1, "log"), Span(file=BUNDLE, line=9, column=29)),
        (("bundle", "slab-on-orrery", "mounts", 0, "runs", 1, "frames"), Span(file=BUNDLE, line=9, column=9)),
        (("card", "orrery-780"), Span(file=CARD, line=1, column=1)),
        (("protocol", "soak", "version"), Span(file="content/protocols/soak.yaml", line=2, column=10)),
        (("archive", "archive", "channel"), Span(file="archive.yaml", line=1, column=10)),
        (("archive", "archive", "theme"), Span(file="archive.yaml", line=1, column=1)),
        (("bench", "absent", "name"), Span(file="benches/absent.yaml")),
        (("bundle", "absent"), Span(file="bundles/absent/bundle.yaml")),
    ],
)
def test_later_stages_can_ask_where_a_field_stands(
    archive: Folder, place: tuple[str, str, *tuple[str | int, ...]], span: Span
) -> None:
    assert archive.sound().where(*place) == span


def test_every_problem_is_reported_at_once_sorted_by_file_and_line(archive: Folder) -> None:
    archive.edit("archive.yaml", "channel", "chanel")
    archive.edit(CARD, "285", "-1")
    archive.edit("coolers/fenwick-slab.yaml", "water block", "watr block")
    archive.edit("benches/open-frame.yaml", "board_power,", "bord_power,")
    archive.edit(BUNDLE, "protocol: soak", "protocol: soek")
    archive.edit(BUNDLE, "log: stock.csv", "log: stok.csv")
    assert [problem.split(": ")[0] for problem in archive.problems()] == [
        "error[unknown-field] archive.yaml:1:1",
        "error[bad-choice] benches/open-frame.yaml:7:25",
        "error[missing-reference] bundles/slab-on-orrery/bundle.yaml:4:11",
        "error[missing-file] bundles/slab-on-orrery/bundle.yaml:9:29",
        "error[bad-value] cards/orrery-780.yaml:2:16",
        "error[bad-choice] coolers/fenwick-slab.yaml:2:7",
    ]


@pytest.mark.parametrize(
    ("file", "text"),
    [
        (CARD, "name: [\n"),
        (CARD, "name: Orrery 780\n"),
        (CARD, "name: Orrery 780\nboard_power_w: .nan\n"),
        (CARD, ""),
        (CARD, "name: &a Orrery\nboard_power_w: 285\n"),
        (CARD, "name: Orrery\nname: Orrery\nboard_power_w: 285\n"),
        ("coolers/fenwick-slab.yaml", "name: Fenwick Slab\nkind: none\n"),
        ("benches/open-frame.yaml", "name: Open frame\n"),
    ],
)
def test_a_broken_file_is_not_reported_as_missing_by_the_bundle(archive: Folder, file: str, text: str) -> None:
    archive.write(file, text)
    problems = archive.problems()
    assert len(problems) == 1
    assert f" {file}:" in problems[0]


def test_a_folder_that_cannot_be_read_is_one_problem(archive: Folder) -> None:
    archive.move("cards", "elsewhere")
    (archive.root / "elsewhere").rename(archive.root.parent / "elsewhere")
    (archive.root / "cards").symlink_to(archive.root.parent / "elsewhere")
    assert archive.problems() == ["error[path-outside] cards: the folder is a link that leads out of the archive"]


def test_a_broken_protocol_does_not_make_every_test_point_unknown(archive: Folder) -> None:
    archive.write("protocols/own.yaml", "name: Own\nversion: 1\npoints: []\n")
    archive.edit(BUNDLE, "protocol: soak", "protocol: own")
    assert {problem.split(" ")[1].split(":")[0] for problem in archive.problems()} == {"protocols/own.yaml"}


def test_an_archive_without_bundles_is_fine(archive: Folder) -> None:
    for file in ("bundle.yaml", "idle.csv", "stock.csv"):
        archive.remove(f"bundles/slab-on-orrery/{file}")
    (archive.root / "bundles" / "slab-on-orrery").rmdir()
    loaded, problems = archive.load()
    assert loaded is not None
    assert loaded.catalogue.bundles == {}
    assert problems == ["notice[no-bundles] bundles: the archive has no bundles yet"]


def test_one_file_is_an_archive(tmp_path: Path) -> None:
    (tmp_path / "archive.yaml").write_text("channel: Cold Lantern\n", encoding="utf-8")
    problems = Problems()
    loaded = load_archive(tmp_path, problems)
    assert loaded is not None
    assert [p.code for p in problems] == ["no-bundles"]
    assert set(loaded.catalogue.protocols) >= {"soak-10", "brief-5"}


def test_a_folder_without_its_file_is_no_archive(tmp_path: Path) -> None:
    for root in (tmp_path, tmp_path / "absent"):
        problems = Problems()
        assert load_archive(root, problems) is None
        assert [str(p) for p in problems] == [
            (
                "error[missing-file] archive.yaml: this folder is no archive: it has no archive.yaml\n"
                "hint: soakbook start DIR makes an archive; every other command works on one"
            )
        ]


def test_a_file_is_no_archive(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("", encoding="utf-8")
    problems = Problems()
    assert load_archive(tmp_path / "x", problems) is None
    assert [str(p) for p in problems] == ["error[not-a-folder] .: expected a folder, found a file"]


def test_the_default_protocols_are_sound(tmp_path: Path) -> None:
    (tmp_path / "archive.yaml").write_text("channel: Cold Lantern\n", encoding="utf-8")
    problems = Problems()
    load_archive(tmp_path, problems, content=content_dir())
    assert not problems.has_errors


def test_sound_bundles_are_given_beside_broken_ones(archive: Folder) -> None:
    archive.write("bundles/other/bundle.yaml", (archive.root / BUNDLE).read_text(encoding="utf-8"))
    problems = Problems()
    loaded = load_sound_parts(archive.root, problems, content=archive.content)
    assert loaded is not None
    assert list(loaded.catalogue.bundles) == ["slab-on-orrery"]
    assert [p.code for p in problems] == ["missing-file", "missing-file"]


def test_problems_found_before_do_not_make_an_archive_unsound(archive: Folder) -> None:
    problems = Problems()
    problems.error("other", Span(file="x"), "found by someone else")
    assert load_archive(archive.root, problems, content=archive.content) is not None
