"""A tester's mistakes: each gives one clear error and exit code 1, no traceback, and leaves the old site alone."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from builder import cli
from builder.commands.start import start_archive

BUNDLE = "bundles/example-tower-on-example-card"
LOG = f"{BUNDLE}/m1-stock.csv"
Mistake = Callable[[Path], None]


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an archive that has been published once."""
    root = tmp_path_factory.mktemp("bad") / "archive"
    start_archive(root)
    assert cli.run(["publish", str(root)]) == cli.FINE
    return root


def write(path: str, text: str | bytes) -> Mistake:
    def mistake(root: Path) -> None:
        target = root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(text if isinstance(text, bytes) else text.encode())

    return mistake


def replace(path: str, old: str, new: str, *, count: int = 1) -> Mistake:
    def mistake(root: Path) -> None:
        text = (root / path).read_text(encoding="utf-8")
        assert old in text
        (root / path).write_text(text.replace(old, new, count), encoding="utf-8")

    return mistake


def second_reader(root: Path) -> None:
    bench = root / "benches/my-bench.yaml"
    text = bench.read_text(encoding="utf-8")
    block = text[text.index("  - id: logger") :]
    bench.write_text(text + block.replace("id: logger", "id: other"), encoding="utf-8")


def wrong_folder(root: Path) -> None:
    shutil.copy(root / "cards/example-card.yaml", root / "coolers/misplaced.yaml")


def shortened(root: Path) -> None:
    lines = (root / LOG).read_text(encoding="utf-8").splitlines(keepends=True)
    (root / LOG).write_text("".join(lines[:200]), encoding="utf-8")
    replace(f"{BUNDLE}/bundle.yaml", "log: m1-stock.csv}", "log: m1-stock.csv, from: 500.0, to: 600.0}")(root)


def renamed(old: str, new: str) -> Mistake:
    def mistake(root: Path) -> None:
        (root / old).rename(root / new)

    return mistake


HEADER = "elapsed_s,core_C,hotspot_C,memory_C,ambient_C,power_W,fps\n"
ALIAS_BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nchannel: *c\n"

MISTAKES = [
    pytest.param((write(LOG, b""), "log-empty", LOG), id="empty log"),
    pytest.param((write(LOG, HEADER), "no-samples", LOG), id="only a header"),
    pytest.param((write(LOG, bytes(range(256)) * 40), "binary-file", LOG), id="binary file named csv"),
    pytest.param(
        (
            replace("benches/my-bench.yaml", "match: [elapsed_s, core_C]", "match: [seconds, core_C]"),
            "no-reader-matches",
            f"{BUNDLE}/",
        ),
        id="reader that matches nothing",
    ),
    pytest.param((second_reader, "readers-overlap", f"{BUNDLE}/"), id="two readers that match"),
    pytest.param((replace(LOG, "\n20,", "\n20,hot"), "not-a-number", f"{LOG}:12:4"), id="text where a number belongs"),
    pytest.param((replace("archive.yaml", "summary: >-\n", "summary:\n\t- x\n"), "tab", "archive.yaml:5"), id="tab"),
    pytest.param((write("archive.yaml", ALIAS_BOMB), "alias", "archive.yaml:1"), id="alias bomb"),
    pytest.param(
        (replace(f"{BUNDLE}/bundle.yaml", "point: stock", "point: stok"), "unknown-point", f"{BUNDLE}/bundle.yaml:15"),
        id="unknown test point",
    ),
    pytest.param((shortened, "cut-outside", f"{BUNDLE}/bundle.yaml:15"), id="run that ends before it starts"),
    pytest.param((wrong_folder, "wrong-folder", "coolers/misplaced.yaml"), id="card in the coolers folder"),
    pytest.param(
        (renamed("cards/example-card.yaml", "cards/Example Card.yaml"), "bad-id", "cards/Example Card.yaml"),
        id="bad id",
    ),
    pytest.param((renamed(BUNDLE, "bundles/UPPER"), "bad-id", "bundles/UPPER"), id="upper case id"),
    pytest.param(
        (replace(f"{BUNDLE}/bundle.yaml", "card: example-card", "card: a/b"), "bad-id", f"{BUNDLE}/bundle.yaml:2"),
        id="id with a slash",
    ),
    pytest.param(
        (replace("cards/example-card.yaml", "Example Card 220", "x" * 200), "bad-value", "cards/example-card.yaml:2"),
        id="name of 200 characters",
    ),
    pytest.param(
        (
            replace(f"{BUNDLE}/bundle.yaml", "tested: 2026-01-10", "tested: 2026-02-30"),
            "bad-date",
            f"{BUNDLE}/bundle.yaml:6",
        ),
        id="date that does not exist",
    ),
    pytest.param(
        (
            replace(f"{BUNDLE}/bundle.yaml", "log: m1-stock.csv", "log: ../../../outside.csv"),
            "path-outside",
            f"{BUNDLE}/bundle.yaml:15",
        ),
        id="log outside the archive",
    ),
]


@pytest.fixture
def root(published: Path, tmp_path: Path) -> Path:
    """Return a copy of the published archive, to be spoilt."""
    return Path(shutil.copytree(published, tmp_path / "archive"))


@pytest.mark.parametrize("command", ["check", "publish"])
@pytest.mark.parametrize("case", MISTAKES)
def test_a_mistake_gives_one_error_with_its_place(
    root: Path, capsys: pytest.CaptureFixture[str], case: tuple[Mistake, str, str], command: str
) -> None:
    mistake, code, where = case
    before = {p: p.read_bytes() for p in (root / "public").rglob("*") if p.is_file()}
    mistake(root)
    capsys.readouterr()
    assert cli.run([command, str(root)]) == cli.BAD_INPUT
    said = capsys.readouterr().err
    errors = re.findall(r"^error\[([a-z-]+)\] (\S.*?): ", said, flags=re.MULTILINE)
    assert [e[0] for e in errors] == [code], said
    assert errors[0][1].startswith(where), said
    assert "Traceback" not in said
    assert {p: p.read_bytes() for p in (root / "public").rglob("*") if p.is_file()} == before


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("برج المثال", "برج المثال"),
        ("<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;/script&gt;"),
        ('Tower "Q" & Sons', "Tower &#34;Q&#34; &amp; Sons"),
    ],
    ids=["Arabic", "script tag", "quotes"],
)
def test_any_name_is_shown_as_text(root: Path, name: str, shown: str) -> None:
    cooler = root / "coolers/example-tower.yaml"
    text = cooler.read_text(encoding="utf-8")
    assert "name: Example Tower" in text
    cooler.write_text(text.replace("name: Example Tower", f"name: '{name}'"), encoding="utf-8")
    assert cli.run(["publish", str(root)]) == cli.FINE
    page = (root / "public/coolers/example-tower.html").read_text(encoding="utf-8")
    assert shown in page
    assert "<script>alert" not in page
