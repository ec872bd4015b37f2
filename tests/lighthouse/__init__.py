"""The audit of every kind of page by Lighthouse: `python -m tests.lighthouse`."""
