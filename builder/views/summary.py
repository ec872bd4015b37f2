"""The table of results that pages of cards, coolers and protocols share."""

from __future__ import annotations

from collections.abc import Sequence

from builder.views.sentences import verdict_tag
from builder.views.subject import Subject
from builder.views.tables import Row, Table, figure_cell, figure_column, filled_columns, text_column, ticked_row
from builder.views.text import Name, capital, short_day

SUMMARY_KINDS = ("core_rise", "memory_rise", "core_psi", "board_power", "frame_rate", "sound_level")


def results_table(subjects: Sequence[Subject], caption: str, *, by: str) -> Table:
    """Return the main figures at stock; `by` names the heading of each row: card, cooler or result."""
    first, *others = (figure_column(k) for k in SUMMARY_KINDS)
    columns = (
        first,
        text_column("verdict", "Verdict"),
        *others,
        text_column("tested", "Tested"),
        text_column("protocol", "Protocol"),
    )
    rows = [_result_row(s, by) for s in subjects]
    kept, thin = filled_columns(columns, rows)
    return Table(id="results", caption=caption, head=capital(by), columns=kept, rows=thin, ticked=True)


def _result_row(subject: Subject, by: str) -> Row:
    named = {"cooler": subject.cooler.name, "card": subject.card.name}
    label = named.get(by, subject.title)
    stock = subject.stock
    first, *others = (figure_cell(stock.figures if stock else {}, k) for k in SUMMARY_KINDS)
    return Row(
        head=(Name(text=label, href=subject.href),),
        cells=(
            first,
            (verdict_tag(stock.verdict),) if stock else (),
            *others,
            (short_day(subject.bundle.tested),),
            (Name(text=subject.protocol.name),),
        ),
        data=ticked_row(subject.id, subject.title, stock.point, stock.name) if stock else None,
    )
