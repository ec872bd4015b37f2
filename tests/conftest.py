"""What all tests share: settings of generated tests, and closing remarks of a test run."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import settings
from playwright.sync_api import Browser

import builder  # noqa: F401 - before numpy: it sets the number of threads
from tests.support.browser import chromium

settings.register_profile("unhurried", deadline=None)  # a busy machine is no failure
settings.load_profile("unhurried")


# Files that take long, so that no process is left with one of them at the end. Each of three processes is given two of
# them at once: the fourth waits for the first, which is the longest of all, so it is a short one.
FIRST = (
    "tests/site/test_packaging.py",
    "tests/site/test_browser.py",
    "tests/commands/preview/test_preview.py",
    "tests/kit/test_pictures.py",
    "tests/site/test_second_theme.py",
    "tests/commands/test_follow.py",
    "tests/site/test_accessibility.py",
    "tests/site/test_side_by_side.py",
    "tests/site/test_chart_reading.py",
    "tests/kit/test_command.py",
    "tests/commands/test_cached_publish.py",
    "tests/site/test_archive_page.py",
    "tests/site/test_html.py",
    "tests/sheet/test_print.py",
    "tests/demo/test_simulator.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests of slow files first; the order of all others stays."""
    place = {name: number for number, name in enumerate(FIRST)}
    items.sort(key=lambda item: place.get(item.nodeid.partition("::")[0], len(FIRST)))


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for the tests of one file: while it runs, the thread can have no second one and no event loop."""
    with chromium() as started:
        yield started


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show what tests recorded as a report, such as the weight of the site's pages."""
    for outcome in ("passed", "failed"):
        for test in terminalreporter.getreports(outcome):
            for name, text in getattr(test, "user_properties", ()):
                if name == "report":
                    terminalreporter.section(test.nodeid.split("::")[-1])
                    terminalreporter.write_line(str(text))
