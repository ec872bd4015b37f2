"""Files of one kind: names as ids, files in the wrong folder, files that nothing reads."""

from __future__ import annotations

import pytest

from tests.support.small_archive import Folder

CARD = "cards/orrery-780.yaml"
COOLER = "coolers/fenwick-slab.yaml"
BUNDLE = "bundles/slab-on-orrery/bundle.yaml"


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        (
            "Orrery 740",
            (
                'error[bad-id] cards/Orrery 740.yaml: the name "Orrery 740" cannot be an id\n'
                'hint: rename the file: use "orrery-740"'
            ),
        ),
        (
            "orrery_740",
            (
                'error[bad-id] cards/orrery_740.yaml: the name "orrery_740" cannot be an id\n'
                'hint: rename the file: use "orrery-740"'
            ),
        ),
        (
            "a--b",
            'error[bad-id] cards/a--b.yaml: the name "a--b" cannot be an id\nhint: rename the file: use "a-b"',
        ),
        (
            "a\\b",
            'error[bad-id] cards/a\\b.yaml: the name "a\\b" cannot be an id\nhint: rename the file: use "a-b"',
        ),
        (
            "برج",
            (
                'error[bad-id] cards/برج.yaml: the name "برج" cannot be an id\n'
                "hint: rename the file: use small letters a to z, digits and single hyphens"
            ),
        ),
        (
            "a" * 65,
            (
                f"error[bad-id] cards/{'a' * 65}.yaml: expected at most 64 characters, found 65\n"
                f'hint: rename the file: use "{"a" * 64}"'
            ),
        ),
        (
            "a\x07b",
            'error[bad-id] cards/a�b.yaml: the name "a�b" cannot be an id\nhint: rename the file: use "a-b"',
        ),
    ],
)
def test_a_file_name_that_cannot_be_an_id_is_reported_with_a_good_one(archive: Folder, name: str, problem: str) -> None:
    archive.write(f"cards/{name}.yaml", "name: Orrery 740\nboard_power_w: 165\n")
    assert archive.problems() == [problem]


def test_a_badly_named_file_is_still_read_for_other_problems(archive: Folder) -> None:
    archive.write("cards/Orrery.yaml", "name: Orrery\nboard_power_w: none\n")
    assert archive.problems() == [
        'error[bad-id] cards/Orrery.yaml: the name "Orrery" cannot be an id\nhint: rename the file: use "orrery"',
        'error[wrong-type] cards/Orrery.yaml:2:16: "board_power_w": expected a number, found "none"',
    ]


def test_a_reference_to_what_a_badly_named_file_should_be_called_is_not_a_second_problem(archive: Folder) -> None:
    archive.move(CARD, "cards/Orrery 780.yaml")
    assert [problem.split(":")[0] for problem in archive.problems()] == ["error[bad-id] cards/Orrery 780.yaml"]


def test_a_folder_name_that_cannot_be_an_id_is_reported(archive: Folder) -> None:
    (archive.root / "bundles" / "slab-on-orrery").rename(archive.root / "bundles" / "Slab on Orrery")
    assert archive.problems() == [
        (
            'error[bad-id] bundles/Slab on Orrery: the name "Slab on Orrery" cannot be an id\n'
            'hint: rename the folder: use "slab-on-orrery"'
        )
    ]


@pytest.mark.parametrize(
    ("old", "new", "kinds", "home"),
    [
        (CARD, "coolers/orrery-780.yaml", ("coolers", "card"), "cards/orrery-780.yaml"),
        (COOLER, "cards/fenwick-slab.yaml", ("cards", "cooler"), "coolers/fenwick-slab.yaml"),
        ("benches/open-frame.yaml", "cards/open-frame.yaml", ("cards", "bench"), "benches/open-frame.yaml"),
    ],
)
def test_a_file_in_the_wrong_folder_is_one_problem(
    archive: Folder, old: str, new: str, kinds: tuple[str, str], home: str
) -> None:
    archive.move(old, new)
    folder, kind = kinds
    assert archive.problems() == [
        (
            f"error[wrong-folder] {new}:1:1: this file stands in {folder}, but its fields are those of a {kind}\n"
            f"hint: move it to {home}"
        )
    ]


def test_a_protocol_and_a_bundle_are_recognised_in_the_wrong_folder(archive: Folder) -> None:
    text = (archive.content / "protocols" / "soak.yaml").read_text(encoding="utf-8")
    archive.write("benches/own.yaml", text)
    archive.write("cards/again.yaml", (archive.root / BUNDLE).read_text(encoding="utf-8"))
    archive.write("coolers/site.yaml", "channel: Cold Lantern\n")
    assert archive.problems() == [
        (
            "error[wrong-folder] benches/own.yaml:1:1: "
            "this file stands in benches, but its fields are those of a protocol\n"
            "hint: move it to protocols/own.yaml"
        ),
        (
            "error[wrong-folder] cards/again.yaml:1:1: "
            "this file stands in cards, but its fields are those of a bundle\n"
            "hint: move it to bundles/again/bundle.yaml"
        ),
        (
            "error[wrong-folder] coolers/site.yaml:1:1: "
            "this file stands in coolers, but its fields are those of an archive\n"
            "hint: move it to archive.yaml"
        ),
    ]


def test_a_card_with_a_missing_field_is_not_taken_for_another_kind(archive: Folder) -> None:
    archive.write("cards/orrery-740.yaml", "name: Orrery 740\nmemory_gb: 8\nkind: card\n")
    assert [problem.split(" ")[0] for problem in archive.problems()] == [
        "error[missing-field]",
        "error[unknown-field]",
    ]


def test_another_extension_is_one_problem(archive: Folder) -> None:
    archive.move(CARD, "cards/orrery-780.yml")
    assert archive.problems() == [
        "error[wrong-extension] cards/orrery-780.yml: expected .yaml, found .yml\nhint: rename it to orrery-780.yaml"
    ]


def test_files_that_nothing_reads_are_notices(archive: Folder) -> None:
    archive.write("cards/README.md", "")
    archive.write("cards/old/orrery-740.yaml", "")
    archive.write("bundles/list.txt", "")
    archive.write("bundles/slab-on-orrery/m2-stock.csv", "")
    archive.write("bundles/slab-on-orrery/notes.md", "")
    archive.write("bundles/slab-on-orrery/script.md", "")
    archive.write("bundles/slab-on-orrery/.hidden", "")
    archive.write("Cooler/x.yaml", "")
    archive.write("README.md", "")
    loaded, problems = archive.load()
    assert loaded is not None
    assert problems == [
        'notice[stray-file] Cooler: not used\nhint: did you mean "coolers"?',
        "notice[stray-file] bundles/list.txt: not used: a bundle is a folder that holds bundle.yaml",
        "notice[stray-file] bundles/slab-on-orrery/m2-stock.csv: not used: no run of bundle.yaml names it",
        "notice[stray-file] cards/README.md: not used: cards holds files that end in .yaml",
        "notice[stray-file] cards/old: not used: cards holds files that end in .yaml",
    ]


def test_a_bundle_folder_without_its_file_is_reported(archive: Folder) -> None:
    archive.move(BUNDLE, "bundles/slab-on-orrery/bundel.yaml")
    assert archive.problems() == [
        (
            "error[missing-file] bundles/slab-on-orrery/bundle.yaml: "
            '"bundles/slab-on-orrery/bundle.yaml" does not exist\n'
            'hint: did you mean "bundel.yaml"?'
        )
    ]


def test_an_own_protocol_cannot_take_the_id_of_a_default_one(archive: Folder) -> None:
    text = (archive.content / "protocols" / "soak.yaml").read_text(encoding="utf-8")
    archive.write("protocols/soak.yaml", text)
    assert archive.problems() == [
        (
            "error[duplicate-id] protocols/soak.yaml: "
            'protocol "soak" comes with Soakbook, and an archive cannot change it\n'
            "hint: rename the file, for example to own-soak.yaml"
        )
    ]


def test_a_default_protocol_is_named_as_such_in_problems(archive: Folder) -> None:
    (archive.content / "protocols" / "soak.yaml").write_text("name: Soak\n", encoding="utf-8")
    assert {problem.split(" ")[1] for problem in archive.problems() if problem.startswith("error")} == {
        "content/protocols/soak.yaml:1:1:"
    }
