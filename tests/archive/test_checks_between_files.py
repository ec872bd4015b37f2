"""What a bundle names has to exist."""

from __future__ import annotations

import pytest

from tests.support.small_archive import Folder

BUNDLE = "bundles/slab-on-orrery/bundle.yaml"


@pytest.mark.parametrize(
    ("file", "old", "new", "problem"),
    [
        pytest.param(
            BUNDLE,
            "card: orrery-780",
            "card: orrery-870",
            "error[missing-reference] bundles/slab-on-orrery/bundle.yaml:1:7: "
            'card "orrery-870" does not exist\n'
            'hint: did you mean "orrery-780"?',
            id="card",
        ),
        pytest.param(
            BUNDLE,
            "cooler: fenwick-slab",
            "cooler: moorhen",
            'error[missing-reference] bundles/slab-on-orrery/bundle.yaml:2:9: cooler "moorhen" does not exist\n'
            "hint: coolers: fenwick-slab",
            id="cooler without a near name",
        ),
        pytest.param(
            BUNDLE,
            "bench: open-frame",
            "bench: openframe",
            "error[missing-reference] bundles/slab-on-orrery/bundle.yaml:3:8: "
            'bench "openframe" does not exist\n'
            'hint: did you mean "open-frame"?',
            id="bench",
        ),
        pytest.param(
            BUNDLE,
            "protocol: soak",
            "protocol: soak-11",
            "error[missing-reference] bundles/slab-on-orrery/bundle.yaml:4:11: "
            'protocol "soak-11" does not exist\n'
            'hint: did you mean "soak"?',
            id="protocol",
        ),
        pytest.param(
            BUNDLE,
            "point: stock",
            "point: stok",
            "error[unknown-point] bundles/slab-on-orrery/bundle.yaml:9:17: "
            'protocol "soak" has no test point "stok"\n'
            'hint: did you mean "stock"?',
            id="test point",
        ),
        pytest.param(
            BUNDLE,
            "point: stock",
            "point: zz",
            "error[unknown-point] bundles/slab-on-orrery/bundle.yaml:9:17: "
            'protocol "soak" has no test point "zz"\n'
            "hint: test points: power-70, stock",
            id="test point without a near name, of those that the mount has not",
        ),
        pytest.param(
            BUNDLE,
            "point: idle",
            "point: stok",
            "error[unknown-point] bundles/slab-on-orrery/bundle.yaml:8:17: "
            'protocol "soak" has no test point "stok"\n'
            "hint: test points: idle, power-70",
            id="test point near one that the mount has already",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\ntheme: notebok",
            'error[missing-reference] archive.yaml:2:8: theme "notebok" does not exist\nhint: did you mean "notebook"?',
            id="theme",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: stok.csv, frames: stock.csv",
            'error[missing-file] bundles/slab-on-orrery/bundle.yaml:9:29: "stok.csv" does not exist\n'
            'hint: did you mean "stock.csv"?',
            id="log",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: stock.csv, frames: frames.bin",
            'error[missing-file] bundles/slab-on-orrery/bundle.yaml:9:48: "frames.bin" does not exist',
            id="frames",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: ../../archive.yaml, frames: stock.csv",
            "error[path-outside] bundles/slab-on-orrery/bundle.yaml:9:29: "
            '"../../archive.yaml" leads out of its folder\n'
            "hint: name a file below this folder, with forward slashes",
            id="log outside",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: /etc/hostname, frames: stock.csv",
            'error[path-outside] bundles/slab-on-orrery/bundle.yaml:9:29: "/etc/hostname" is an absolute path\n'
            "hint: name a file below this folder, with forward slashes",
            id="absolute log",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: 'logs\\stock.csv', frames: stock.csv",
            'error[path-outside] bundles/slab-on-orrery/bundle.yaml:9:29: "logs\\stock.csv" holds a backslash\n'
            "hint: name a file below this folder, with forward slashes",
            id="log with backslash",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: ., frames: stock.csv",
            'error[not-a-file] bundles/slab-on-orrery/bundle.yaml:9:29: "." is a folder',
            id="folder as log",
        ),
    ],
)
def test_what_does_not_exist_is_reported_with_the_nearest_name(
    archive: Folder, file: str, old: str, new: str, problem: str
) -> None:
    archive.edit(file, old, new)
    assert archive.problems() == [problem]


def test_a_log_that_links_out_of_the_archive_is_refused(archive: Folder) -> None:
    (archive.root.parent / "secret.txt").write_text("secret", encoding="utf-8")
    archive.remove("bundles/slab-on-orrery/stock.csv")
    (archive.root / "bundles/slab-on-orrery/stock.csv").symlink_to(archive.root.parent / "secret.txt")
    assert archive.problems() == [
        (
            "error[path-outside] bundles/slab-on-orrery/bundle.yaml:9:29: "
            '"stock.csv" is a link that leads out of the archive'
        )
    ]


def test_logs_may_stand_in_a_folder_of_the_bundle(archive: Folder) -> None:
    archive.edit(BUNDLE, "log: stock.csv", "log: logs/stock.csv")
    archive.move("bundles/slab-on-orrery/stock.csv", "bundles/slab-on-orrery/logs/stock.csv")
    archive.sound()


def test_a_test_point_that_the_card_cannot_be_set_to_is_a_warning(archive: Folder) -> None:
    archive.edit(BUNDLE, "point: stock", "point: power-70")
    archive.edit("cards/orrery-780.yaml", "min: 50", "min: 80")
    loaded, problems = archive.load()
    assert loaded is not None
    assert problems == [
        (
            'warning[power-limit-range] bundles/slab-on-orrery/bundle.yaml:9:17: test point "power-70" asks for a '
            "power limit of 70 %, and the card takes 80 to 110 %\nhint: check power_limit_pct in the card's file"
        )
    ]


EQUIVALENT = "{id: stock, name: Stock, role: stock, equivalent: [{protocol: %s, point: %s}]}"


def own_protocol(archive: Folder, protocol: str, point: str) -> None:
    text = (archive.content / "protocols" / "soak.yaml").read_text(encoding="utf-8")
    stock = "{id: stock, name: Stock, role: stock}"
    archive.write("protocols/own.yaml", text.replace(stock, EQUIVALENT % (protocol, point)))


def test_an_equivalent_test_point_that_exists_is_fine(archive: Folder) -> None:
    own_protocol(archive, "soak", "stock")
    assert set(archive.sound().catalogue.protocols) == {"own", "soak"}


@pytest.mark.parametrize(
    ("protocol", "point", "problem"),
    [
        (
            "soek",
            "stock",
            (
                'error[missing-reference] protocols/own.yaml:7:67: protocol "soek" does not exist\n'
                'hint: did you mean "soak"?'
            ),
        ),
        (
            "soak",
            "stok",
            (
                'error[unknown-point] protocols/own.yaml:7:80: protocol "soak" has no test point "stok"\n'
                'hint: did you mean "stock"?'
            ),
        ),
    ],
)
def test_an_equivalent_that_does_not_exist_is_reported(
    archive: Folder, protocol: str, point: str, problem: str
) -> None:
    own_protocol(archive, protocol, point)
    assert archive.problems() == [problem]
