"""The bundle file of a session that has not begun: everything known, and a commented line for each run."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from builder.archive.bundle import Pad
from builder.archive.catalogue import Setup
from builder.archive.protocol import TestPoint
from builder.core.results import Quantity
from builder.sheet.sheet_contents import Session, log_name, points_of, power_limit_trouble, read_by_hand
from builder.sheet.steps import TICKS


def bundle_skeleton(session: Session) -> str:
    """Return the text of `bundle.yaml`, valid as it stands: a bundle without runs is one that is planned."""
    ticks = TICKS[session.setup.cooler.kind]
    return "\n".join((*_head(session.setup), *_assembly(session.pads, ticks), *_mounts(session), ""))


def _head(setup: Setup) -> Iterator[str]:
    bundle = setup.bundle
    yield "# $schema: ../../.schemas/bundle.json"
    yield f"# {setup.cooler.name} on {setup.card.name}. run-sheet.html beside this file is for the bench."
    yield f"card: {bundle.card}"
    yield f"card_sample: {bundle.card_sample}  # which specimen of the card"
    yield f"cooler: {bundle.cooler}"
    yield f"bench: {bundle.bench}"
    yield f"protocol: {bundle.protocol}"
    yield f"tested: {bundle.tested.isoformat()}"
    yield "# supplied_by: bought  # or maker sample, loan, own work"
    yield ""


def _assembly(pads: tuple[Pad, ...], ticks: Iterable[str]) -> Iterator[str]:
    # `assembly` is a comment as a whole where no pad is known, and its other fields are comments in any case.
    off, aside = ("", "  # ") if pads else ("# ", "#   ")
    yield "# What was used, and what was ticked on the run sheet."
    yield f"{off}assembly:"
    yield f"{aside}paste: {{name: Name of the paste, pattern: cross}}"
    yield f"{off}  pads:"
    lines = [_pad(pad) for pad in pads] or ["{where: memory, thickness_mm: 1.5, gap_mm: 1.3}"]
    yield from (f"{off}    - {line}" for line in lines)
    yield f"{aside}checks: {{{', '.join(f'{check}: true' for check in ticks)}}}"
    yield ""


def _pad(pad: Pad) -> str:
    gap = "" if pad.gap_mm is None else f", gap_mm: {pad.gap_mm:g}"
    return f"{{where: {json.dumps(pad.where, ensure_ascii=False)}, thickness_mm: {pad.thickness_mm:g}{gap}}}"


def _mounts(session: Session) -> Iterator[str]:
    protocol = session.setup.protocol
    yield '# Once a log is in this folder: remove the "# " before its line, and give the log\'s own name.'
    readings = ", ".join(f"{quantity}: 0" for quantity in read_by_hand(session.setup)[:3])
    yield f"# Read by hand, in place of log: readings: {{{readings}}} and so on, with the digits as shown."
    yield "mounts:"
    yield "  - runs:"
    yield from (f"      # - {line}" for line in _runs(session, 1, protocol.points))
    for number in range(2, session.mounts + 1):
        yield f"  # - note: Mount {number}, cooler off and on again."
        yield "  #   runs:"
        yield from (f"  #     - {line}" for line in _runs(session, number, points_of(protocol, number)))


def _runs(session: Session, mount: int, points: Iterable[TestPoint]) -> Iterator[str]:
    columns = (column for reader in session.setup.bench.readers for column in reader.columns.values())
    logged = any(column.quantity is Quantity.AMBIENT_TEMPERATURE for column in columns)
    hand = "" if logged else ", ambient_c: 22.5"
    for point in points:
        trouble = power_limit_trouble(session.setup.card, point)
        remark = f"  # {trouble}" if trouble else ""
        yield f"{{point: {point.id}, log: {log_name(mount, point.id)}{hand}}}{remark}"
