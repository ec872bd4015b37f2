"""The README's first command on a clean copy, and the command it installs, used from elsewhere."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.support import readme
from tests.support.command import ROOT
from tests.support.pages import Site, contents

# Other ones than where the other tests publish the demo: neither time zone, language nor order of hashes may show.
SURROUNDINGS = {"PYTHONHASHSEED": "2", "TZ": "America/St_Johns", "LANG": "C", "LC_ALL": "C"}


@dataclass(frozen=True, kw_only=True)
class Installed:
    """A clean copy of the checkout with the project installed as the README says."""

    checkout: Path

    @property
    def command(self) -> Path:
        return self.checkout / ".venv" / "bin" / "soakbook"


def clean_environment() -> dict[str, str]:
    """The surroundings of a person at a terminal: this Python first on the path, and no way back to the checkout."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "PYTEST"))}
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    # pip leaves compiling to the first use: most of what it installs is never used here.
    return {**kept, **SURROUNDINGS, "PATH": path, "PIP_COMPILE": "0"}


def run(command: list[str | Path], cwd: Path) -> str:
    done = subprocess.run(
        command,
        cwd=cwd,
        env=clean_environment(),
        umask=0o077,
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=600,
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def tracked_files() -> list[str]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, encoding="utf-8", check=True)
    return [name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What a clone would hold: the files under version control and nothing else."""
    folder = tmp_path_factory.mktemp("clean") / "soakbook"
    for name in tracked_files():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / name, folder / name)
    return folder


@pytest.fixture(scope="module")
def installed(checkout: Path) -> Installed:
    for command in readme.commands()[:2]:
        run([*command], checkout)
    return Installed(checkout=checkout)


def test_the_first_command_of_the_readme_publishes_the_same_bytes_as_elsewhere(
    installed: Installed, site: Site
) -> None:
    publish = readme.commands()[2]
    assert publish == [".venv/bin/soakbook", "publish", "site_demo"]
    run([*publish], installed.checkout)
    one, other = contents(site.folder), contents(installed.checkout / "site_demo" / "public")
    assert "index.html" in other
    assert sorted(one) == sorted(other)
    assert [path for path in one if one[path] != other[path]] == []
    ledger = "site_demo/ledger.json"
    assert (installed.checkout / ledger).read_bytes() == (ROOT / ledger).read_bytes()  # nothing changed unnoticed


def test_a_new_archive_is_started_checked_and_published_from_elsewhere(installed: Installed, tmp_path: Path) -> None:
    for verb in ("start", "check", "publish"):
        run([installed.command, verb, "my-archive"], tmp_path)
    assert (tmp_path / "my-archive" / "public" / "index.html").is_file()


def test_the_commands_of_the_first_log_run_as_they_stand(installed: Installed, tmp_path: Path) -> None:
    log = ROOT / "tests/archives/accelerator/bundles/accelerator-1-as-delivered/sensors.csv"
    shown = [words[1:] for words in readme.commands() if words[0] == ".venv/bin/soakbook" and words[1] != "publish"]
    assert [verb for verb, *_ in shown] == ["start", "inspect"]
    told = [
        run([installed.command, *(log if w == "path/to/your-log.csv" else w for w in words)], tmp_path)
        for words in shown
    ]
    assert (tmp_path / "my-archive" / "archive.yaml").is_file()
    assert "columns:" in told[1]


def test_only_what_the_program_needs_is_installed(installed: Installed) -> None:
    python = installed.command.parent / "python"
    looked_for = "import importlib.util as u; print(*[m for m in ('pytest', 'playwright', 'mypy') if u.find_spec(m)])"
    assert run([python, "-c", looked_for], installed.checkout.parent).strip() == ""


def test_the_installed_command_tells_its_version(installed: Installed, tmp_path: Path) -> None:
    assert run([installed.command, "--version"], tmp_path).strip().endswith("0.1.0")


def test_the_wheel_holds_words_themes_and_types_and_no_tests(checkout: Path, tmp_path: Path) -> None:
    run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", tmp_path, checkout], tmp_path)
    (wheel,) = tmp_path.glob("soakbook-*.whl")
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
    moved = {"content": "builder/_content", "themes": "builder/_themes"}
    tracked = [Path(name) for name in tracked_files()]
    wanted = {f"{moved[p.parts[0]]}/{Path(*p.parts[1:]).as_posix()}" for p in tracked if p.parts[0] in moved}
    assert wanted - names == set()
    assert "builder/py.typed" in names
    assert [name for name in names if not name.startswith(("builder/", "soakbook-"))] == []
