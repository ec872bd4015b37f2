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
