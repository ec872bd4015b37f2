"""Runs everything that must pass, after bringing what it needs: `python3 tests/run.py`.

Standard library only. The first run makes `.venv-tests` in the checkout, and installs a browser, Java and Node where
they are missing; later runs find them there.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TypeAlias

ROOT = Path(__file__).resolve().parent.parent
TESTS = ROOT / "tests"
VENV = ROOT / ".venv-tests"
PYTHON = VENV / "bin" / "python"
OLDEST_PYTHON = (3, 11)
STEP_LIMIT_S = 3000  # against a hang; a good run takes a tenth of it
WORKERS = 3  # on two processors: browsers and installations often wait


Screen: TypeAlias = "IO[str] | None"  # what a step writes into, None for the terminal


class CannotRun(Exception):  # noqa: N818 - a sentence for the person at the terminal, no defect
    """Something that the tests need is missing and could not be brought."""


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A program that the tests need: its command, the oldest major version that does, and its Debian packages."""

    command: str
    oldest: int
    packages: tuple[str, ...]
    version_flag: str = "--version"


@dataclass(frozen=True, kw_only=True)
class Tally:
    """How many checks passed and how many failed."""

    passed: int
    failed: int


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One step of the run with its tally and the time it took."""

    step: str
    tally: Tally
    seconds: float


TOOLS = (
    Tool(command="chromium", oldest=110, packages=("chromium",)),
    Tool(command="java", oldest=17, packages=("default-jre-headless",), version_flag="-version"),
    Tool(command="node", oldest=18, packages=("nodejs",)),
    Tool(command="npm", oldest=7, packages=("npm",)),
)

FONT = "Liberation Sans"  # as wide as the font that a reader's browser has for Arial, and the one of the renderer

# --- what the tests need ---------------------------------------------------------------------------------------


def say(text: str) -> None:
    """Write a line at once, so that it stands before the output of the next program."""
    print(text, flush=True)


def run(command: Sequence[str | Path], *, cwd: Path = ROOT, quiet: bool = False, screen: Screen = None) -> int:
    """Return the exit code of a program; 124 when it takes too long.

    Quiet means that only complaints are shown; `screen` is a file in place of the terminal.
    """
    words = [str(part) for part in command]
    out = subprocess.DEVNULL if quiet else screen
    try:
        return subprocess.run(
            words, cwd=cwd, check=False, timeout=STEP_LIMIT_S, stdout=out, stderr=screen and subprocess.STDOUT
        ).returncode
    except subprocess.TimeoutExpired:
        say(f"stopped after {STEP_LIMIT_S} s")
        return 124


def must(command: Sequence[str | Path], failure: str, *, cwd: Path = ROOT) -> None:
    """Run a program of the preparation; a failure ends the whole run with a sentence."""
    if run(command, cwd=cwd, quiet=True) != 0:
        raise CannotRun(failure)


def major_version(tool: Tool) -> int:
    """Return the major version of a program on the path, or 0 where it is missing or does not start."""
    found = shutil.which(tool.command)
    if found is None:
        return 0
    told = subprocess.run([found, tool.version_flag], capture_output=True, text=True, check=False, timeout=60)
    number = re.search(r"\d+", told.stdout + told.stderr)
    return int(number.group()) if number and told.returncode == 0 else 0


def missing_tools() -> list[Tool]:
    """Return the programs that are missing or too old."""
    return [tool for tool in TOOLS if major_version(tool) < tool.oldest]


def as_root(command: Sequence[str]) -> list[str]:
    """Return the command as it runs with the rights to install."""
    if os.geteuid() == 0:
        return ["env", "DEBIAN_FRONTEND=noninteractive", *command]
    return ["sudo", "env", "DEBIAN_FRONTEND=noninteractive", *command]


def install(packages: Sequence[str]) -> None:
    """Install Debian packages, or say which ones are wanted where that is not possible."""
    wanted = " ".join(packages)
    if shutil.which("apt-get") is None or (os.geteuid() != 0 and shutil.which("sudo") is None):
        raise CannotRun(f"The tests need these programs, and they cannot be installed from here: {wanted}.")
    say(f"-- installing {wanted}")
    must(as_root(["apt-get", "-qq", "update"]), "The package lists could not be read: apt-get update failed.")
    must(
        as_root(["apt-get", "-qq", "install", "-y", "--no-install-recommends", *packages]),
        f"The tests need these packages, and apt-get could not install them: {wanted}.",
    )


def missing_fonts() -> list[str]:
    """Return the Debian packages of the font that pictures are laid out for, where the browser would not find it."""
    found = shutil.which("fc-match")
    family = subprocess.run([found, FONT], capture_output=True, text=True, check=False).stdout if found else ""
    return [] if FONT in family else ["fontconfig", "fonts-liberation"]


def bring_tools() -> None:
    """Install the programs and fonts that are missing and check that the programs are new enough."""
    packages = [*(package for tool in missing_tools() for package in tool.packages), *missing_fonts()]
    if not packages:
        return
    install(packages)
    if still := missing_tools():
        wanted = ", ".join(f"{tool.command} {tool.oldest} or newer" for tool in still)
        raise CannotRun(f"The tests need newer programs than this system offers: {wanted}.")


def bring_venv_module() -> None:
    """Install what Python's own `venv` needs, which Debian keeps in a package of its own."""
    if run([sys.executable, "-c", "import ensurepip, venv"]) != 0:
        install([f"python3.{sys.version_info.minor}-venv"])


def fingerprint(*files: Path) -> str:
    """Return a digest of the interpreter and of files whose change asks for a new installation."""
    digest = hashlib.sha256(f"{sys.executable} {sys.version}".encode())
    for file in files:
        digest.update(file.read_bytes())
    return digest.hexdigest()


def bring_once(stamp: Path, wanted: str, bring: Callable[[], None]) -> None:
    """Call `bring` unless the stamp says that the same was brought before."""
    if stamp.is_file() and stamp.read_text(encoding="utf-8") == wanted:
        return
    bring()
    stamp.write_text(wanted, encoding="utf-8")


def make_environment() -> None:
    """Make the virtual environment with the project and its tests extra."""
    bring_venv_module()
    say(f"-- making {VENV.name}")
    must([sys.executable, "-m", "venv", "--clear", VENV], "Python could not make a virtual environment.")
    must(
        [
            PYTHON,
            "-m",
            "pip",
            "install",
            "-qq",
            "--disable-pip-version-check",
            "--no-compile",
            "--editable",
            ".[tests]",
        ],
        "pip could not install the project with its tests extra; see its message above.",
    )


def install_node_packages() -> None:
    """Install the Node packages of the lock file, without running their scripts."""
    must(
        ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"],
        "npm could not install the packages of tests/package-lock.json; see its message above.",
        cwd=TESTS,
    )


def prepare() -> None:
    """Bring everything that the steps need."""
    if sys.version_info < OLDEST_PYTHON:
        raise CannotRun(f"The tests need Python 3.11 or newer; this is {sys.version.split()[0]}.")
    bring_tools()
    lock = TESTS / "package-lock.json"
    wanted = (
        (VENV / "soakbook.stamp", fingerprint(ROOT / "pyproject.toml"), make_environment),
        (TESTS / "node_modules" / ".soakbook-stamp", fingerprint(lock), install_node_packages),
    )
    with ThreadPoolExecutor() as both:
        for brought in [both.submit(bring_once, *what) for what in wanted]:
            brought.result()


# --- the steps -------------------------------------------------------------------------------------------------


def one_check(command: Sequence[str | Path], screen: Screen) -> Tally:
    """Return the tally of a program that is one check in itself."""
    good = run(command, screen=screen) == 0
    return Tally(passed=int(good), failed=int(not good))


def ruff(screen: Screen) -> Tally:
    """Lint."""
    return one_check([PYTHON, "-m", "ruff", "check", "."], screen)


def formatted(screen: Screen) -> Tally:
    """Compare the formatting."""
    return one_check([PYTHON, "-m", "ruff", "format", "--check", "."], screen)


def mypy(screen: Screen) -> Tally:
    """Check the types."""
    return one_check([PYTHON, "-m", "mypy"], screen)


def settled(tally: Tally, code: int) -> Tally:
    """Return the tally with one failure more where a runner ran nothing, or failed with no failed test to show."""
    nothing_ran = tally.passed + tally.failed == 0
    hidden = code != 0 and tally.failed == 0
    return Tally(passed=tally.passed, failed=tally.failed + int(nothing_ran or hidden))


def junit_tally(report: Path) -> Tally:
    """Return the tally of a JUnit report; a skipped test counts as failed, because it showed nothing."""
    if not report.is_file():
        return Tally(passed=0, failed=0)
    suites = list(ET.parse(report).getroot().iter("testsuite"))  # noqa: S314 - written by this run
    total = sum(int(suite.get("tests", 0)) for suite in suites)
    bad = sum(int(suite.get(kind, 0)) for suite in suites for kind in ("failures", "errors", "skipped"))
    return Tally(passed=total - bad, failed=bad)


def pytest(screen: Screen) -> Tally:
    """Run the Python tests and doctests on a few processes; tests of one file stay together, as do their fixtures."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "pytest.xml"
        share = ["-n", str(WORKERS), "--dist", "loadfile", "--no-loadscope-reorder"]
        code = run(
            [PYTHON, "-m", "pytest", "-q", "-ra", "--durations=10", *share, f"--junitxml={report}"], screen=screen
        )
        return settled(junit_tally(report), code)


def tap_tally(report: str) -> Tally:
    """Return the tally of a report in TAP, from the lines `# pass N` and `# fail N` that close it."""
    counts = dict(re.findall(r"^# (\w+) (\d+)$", report, flags=re.MULTILINE))
    bad = sum(int(counts.get(kind, 0)) for kind in ("fail", "cancelled", "skipped", "todo"))
    return Tally(passed=int(counts.get("pass", 0)), failed=bad)


def script_tests() -> list[Path]:
    """Return the test files of the site's scripts; named one by one, since Node's patterns differ by version."""
    return sorted(file for file in (TESTS / "js").rglob("*.test.*") if file.suffix in {".js", ".mjs", ".cjs"})


def node(screen: Screen) -> Tally:
    """Run the tests of the site's scripts."""
    files = script_tests()
    if not files:
        print("tests/js holds no *.test.js", file=screen, flush=True)
        return settled(Tally(passed=0, failed=0), 0)
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "node.tap"
        shown = ["--test-reporter=spec", "--test-reporter-destination=stdout"]
        counts = ["--test-reporter=tap", f"--test-reporter-destination={report}"]
        code = run(["node", "--test", *shown, *counts, *files], cwd=TESTS, screen=screen)
        return settled(tap_tally(report.read_text(encoding="utf-8") if report.is_file() else ""), code)


STEPS: dict[str, Callable[[Screen], Tally]] = {
    "ruff": ruff,
    "format": formatted,
    "mypy": mypy,
    "pytest": pytest,
    "node": node,
}
BESIDE = {"mypy", "node"}  # steps that run while pytest waits for browsers; what they write is shown after it


# --- the whole -------------------------------------------------------------------------------------------------


def take(step: str, screen: Screen = None) -> Outcome:
    """Run one step and return its outcome."""
    print(f"\n== {step}", file=screen, flush=True)
    began = time.monotonic()
    tally = STEPS[step](screen)
    return Outcome(step=step, tally=tally, seconds=time.monotonic() - began)


def take_all(steps: Sequence[str]) -> list[Outcome]:
    """Run steps one after the other, some of them beside pytest, and return their outcomes in the order given."""
    beside = [step for step in steps if step in BESIDE and "pytest" in steps]
    with tempfile.TemporaryFile("w+", encoding="utf-8") as screen, ThreadPoolExecutor(max_workers=1) as other:
        promised = [other.submit(take, step, screen) for step in beside]
        outcomes = [take(step) for step in steps if step not in beside]
        outcomes += [promise.result() for promise in promised]
        screen.seek(0)
        if beside:
            say(screen.read())
    return sorted(outcomes, key=lambda outcome: steps.index(outcome.step))


def summary(outcomes: Sequence[Outcome]) -> str:
    """Return the closing lines: one for each step, then `N passed, N failed` of everything."""
    lines = [f"{o.step:<8} {o.tally.passed:>5} passed {o.tally.failed:>4} failed {o.seconds:>7.1f} s" for o in outcomes]
    passed = sum(o.tally.passed for o in outcomes)
    failed = sum(o.tally.failed for o in outcomes)
    return "\n".join(["\n== summary", *lines, f"{passed} passed, {failed} failed"])


def main(arguments: Sequence[str] | None = None) -> int:
    """Return 0 when everything passed and something ran, 1 when a check failed, 2 when the tests could not run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("step", nargs="*", help=f"run only these, of: {', '.join(STEPS)}")
    wanted = parser.parse_args(arguments).step or list(STEPS)
    if unknown := [step for step in wanted if step not in STEPS]:
        parser.error(f"no such step: {', '.join(unknown)}")
    try:
        prepare()
    except CannotRun as reason:
        say(str(reason))
        return 2
    outcomes = take_all(wanted)
    say(summary(outcomes))
    return int(any(outcome.tally.failed for outcome in outcomes))


if __name__ == "__main__":
    sys.exit(main())
