"""What all tests share: settings of generated tests, and closing remarks of a test run."""

from __future__ import annotations

import pytest
from hypothesis import settings

import builder  # noqa: F401 - before numpy: it sets the number of threads

settings.register_profile("unhurried", deadline=None)  # a busy machine is no failure
settings.load_profile("unhurried")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show what tests recorded as a report, such as the weight of the site's pages."""
    for outcome in ("passed", "failed"):
        for test in terminalreporter.getreports(outcome):
            for name, text in getattr(test, "user_properties", ()):
                if name == "report":
                    terminalreporter.section(test.nodeid.split("::")[-1])
                    terminalreporter.write_line(str(text))
