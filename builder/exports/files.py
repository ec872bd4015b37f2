"""A data file with its bytes and what its descriptor says of it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from builder.views.data import DataEntry

FOLDER = "data"


@dataclass(frozen=True, kw_only=True)
class DataFile:
    """A data file: its address below the folder of data files, its bytes, and what it is and holds.

    `bundle` is empty for files of the whole archive; `log` tells the log of a run from figures; `schema` is the id of
    the schema of its columns, empty for JSON.
    """

    path: str
    data: bytes
    label: str
    holds: str
    bundle: str = ""
    log: bool = False
    schema: str = ""

    @property
    def href(self) -> str:
        """Return its address from the site's root."""
        return f"{FOLDER}/{self.path}"

    @property
    def sha256(self) -> str:
        """Return the hash of its bytes, as hexadecimal digits."""
        return hashlib.sha256(self.data).hexdigest()

    @property
    def media_type(self) -> str:
        """Return its type by name: `text/csv` or `application/json`."""
        return "text/csv" if self.path.endswith(".csv") else "application/json"

    @property
    def entry(self) -> DataEntry:
        """Return what pages say of it."""
        return DataEntry(
            href=self.href,
            label=self.label,
            holds=self.holds,
            size=len(self.data),
            bundle=self.bundle,
            log=self.log,
        )


def json_bytes(record: Any) -> bytes:  # noqa: ANN401 - whatever JSON holds
    """Return a record as compact JSON, floats to seven digits. Raises ValueError where one is not finite."""
    text = json.dumps(_lean(record), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return f"{text}\n".encode()


def _lean(value: Any) -> Any:  # noqa: ANN401 - whatever JSON holds
    if isinstance(value, float):
        return lean(value)
    if isinstance(value, dict):
        return {key: _lean(item) for key, item in value.items()}
    return [_lean(item) for item in value] if isinstance(value, list | tuple) else value


def lean(value: float) -> float:
    """Return a number to seven significant digits: far beyond any uncertainty, and the same on every machine.

    >>> lean(31.400000000000002), lean(0.1 + 0.2)
    (31.4, 0.3)
    """
    return float(f"{value:.7g}")
