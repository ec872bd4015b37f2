"""`soakbook inspect`: a log's columns with what they probably are, and the reader block for the bench file."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from builder.commands.terminal import heading, table
from builder.logs import Inspection, inspection_rows
from builder.logs import inspect_log as inspect_bytes
from builder.site.records import Record


@dataclass(frozen=True, kw_only=True)
class Inspected:
    """A log that was looked at."""

    inspection: Inspection

    @property
    def record(self) -> Record:
        """Return what `--json` prints: what the log looks like, with the reader block as text."""
        found = self.inspection
        return {
            "file": found.file,
            "encoding": found.encoding,
            "delimiter": found.delimiter,
            "decimal": found.decimal,
            "header_line": found.header_line,
            "rows": found.rows,
            "columns": [asdict(row) for row in inspection_rows(found)],
            "repairs": [str(repair) for repair in found.repairs],
            "remarks": list(found.remarks),
            "reader_block": found.reader_block(),
        }

    @property
    def reader_block(self) -> str:
        """Return YAML to paste under `readers:` of a bench file."""
        return self.inspection.reader_block()

    @property
    def view(self) -> RenderableType:
        """Return the columns with their ranges, and what was repaired."""
        found = self.inspection
        columns = table(("column", "probably", "unit", "readings", "missing", "from", "to"), wrapped="column")
        for row in inspection_rows(found):
            unit = "timestamp" if "%" in row.unit else row.unit
            texts = (row.column, row.guess, unit, row.readings, row.missing, row.low, row.high)
            columns.add_row(*map(Text, texts))
        about = (
            f"{found.encoding}, {found.delimiter} between columns, decimal {found.decimal}, "
            f"header in line {found.header_line}, {found.rows} rows"
        )
        repairs = [Text(str(repair)) for repair in (*found.repairs, *found.remarks)]
        block = Text("\nPaste this under `readers:` in your bench file:", style="dim")
        return Group(heading(found.file), Text(about), columns, *repairs, block)


def inspect_log(log: Path) -> Inspected:
    """Return what a log holds. Raises SoakbookError where it is no delimited text."""
    return Inspected(inspection=inspect_bytes(log.read_bytes(), log.name))
