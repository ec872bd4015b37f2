"""Closing remarks of a test run."""

from __future__ import annotations

import pytest


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show what tests recorded as a report, such as the weight of the site's pages."""
    for outcome in ("passed", "failed"):
        for test in terminalreporter.getreports(outcome):
            for name, text in getattr(test, "user_properties", ()):
                if name == "report":
                    terminalreporter.section(test.nodeid.split("::")[-1])
                    terminalreporter.write_line(str(text))
