"""What is said of one result in sentences: its verdict, what a reader must know, its lines, and its power sweep."""

from __future__ import annotations

from collections.abc import Iterator

from builder.archive.protocol import PointRole
from builder.comparison import Subject, by_hand, leads, settled
from builder.core.quantity import NO_BREAK
from builder.core.results import HOTSPOT, MEMORY, SENSORS, Bound, PointResult, PowerLine, Verdict
from builder.pages.parts import Line, Name, Tag, count, figure_line, joined, num, point_name, setting

_TAGS = {
    Verdict.SETTLED: "good",
    Verdict.DRIFTING: "bad",
    Verdict.UNDECIDED: "open",
    Verdict.TOO_SHORT: "bad",
    Verdict.BY_HAND: "open",
}

_UNSETTLED = {
    Verdict.DRIFTING: "was still drifting when it ended",
    Verdict.UNDECIDED: "does not show whether it had settled",
    Verdict.TOO_SHORT: "was too short to judge",
    Verdict.BY_HAND: "was read by hand",
}

_LOWER_HALF = "the means are over the last half of the run, and no rise is given."
_LAST_HALF = f"{_LOWER_HALF[0].upper()}{_LOWER_HALF[1:]}"
_NOT_AT_REST = (
    "Of a run that had not settled the rise is the window's own, without a correction: a bound where the run was still "
    "drifting."
)

_HAND = "Figures by hand are single readings off a display, as uncertain as its last digit and its sensor at least."

_SUPPLIED = {
    "bought": "The cooler was bought by the channel.",
    "maker sample": "The cooler is a sample from its maker.",
    "loan": "The cooler was on loan.",
    "own work": "The cooler is the channel's own work.",
}


def verdict_tag(verdict: Verdict) -> Tag:
    """Return a verdict as a short word."""
    return Tag(text=str(verdict), kind=_TAGS[verdict])


def verdict_sentence(subject: Subject) -> Line:
    """Return the result in one or two sentences: what the cooler does at stock settings, and whether it had settled."""
    stock = subject.stock
    if stock is None:
        return ("There is no run at stock settings; all figures belong to other test points.",)
    if not leads(stock):
        return _no_final_figure(stock)
    core = _core(subject, stock)
    if not core:
        return ("The run at stock settings gave no temperature to publish.",)
    return (*core, *_at_power(stock), ".", *_by_hand(stock))


def _by_hand(stock: PointResult) -> Line:
    """Return what to know of figures at stock that were read by hand; empty where they were logged."""
    if not by_hand(stock):
        return ()
    use = "it takes part with an allowance for that" if stock.compared else "it stands in no order"
    return (f" The figures were read by hand: nobody can say whether the run had settled, so {use}.",)


def _no_final_figure(stock: PointResult) -> Line:
    """Return why a result has no figure to lead with, and the bound of the rise at rest where the run shows one."""
    start = f"The run at stock settings {_UNSETTLED[stock.verdict]}, so there is no final figure and no rank."
    rise = stock.figures.get("core_rise")
    if rise is None or rise.bound is Bound.NONE:
        return (start,)
    return (start, " At rest the core would be ", *figure_line(rise), " above ambient", *_at_power(stock), ".")


def _at_power(stock: PointResult) -> Line:
    power = stock.figures.get("board_power")
    return (" at ", num(power.estimate), " board power") if power else ()


def _core(subject: Subject, stock: PointResult) -> Line:
    start: Line = ("At stock settings the ", Name(text=subject.cooler.name), " holds the core of the ")
    card = Name(text=subject.card.name)
    if rise := stock.figures.get("core_rise"):
        return (*start, card, " ", num(rise.estimate), " above ambient")
    if core := stock.figures.get("core_temperature"):
        return (*start, card, " at ", num(core.estimate), f" ({_no_rise(stock)})")
    return ()


def _no_rise(stock: PointResult) -> str:
    if "ambient_temperature" in stock.figures:
        return "its log gives no rise over ambient"
    return "the room's temperature is not known, so no rise"


def method_sentence(subject: Subject) -> str:
    """Return what the figures of a page are means of: by how its runs were judged."""
    points = subject.result.points
    short = [p for p in points if p.verdict is Verdict.TOO_SHORT]
    said = (
        "Temperatures, power and speeds are means over the window at the end of a run. A rise is that at rest: the "
        "mean over the window less the ambient temperature that the cooler drew in, and a correction for what the run "
        "had still to go."
    )
    if all(by_hand(p) for p in points):
        return f"{_HAND} A rise is the difference of two readings."
    if len(short) == len(points):
        return f"No run here was long enough for a window. {_LAST_HALF}"
    unsettled = any(p.verdict in (Verdict.DRIFTING, Verdict.UNDECIDED) for p in points)
    of_short = f"Where a run was too short for a window, {_LOWER_HALF}"
    more = (_NOT_AT_REST if unsettled else "", of_short if short else "", _HAND if any(map(by_hand, points)) else "")
    return " ".join(x for x in (said, *more) if x)


def remarks(subject: Subject) -> tuple[Line, ...]:
    """Return what a reader must know before using the figures, one sentence each."""
    found = (
        _unsettled_points(subject),
        _points_by_hand(subject),
        *_over_limit(subject),
        _outside_band(subject),
        _one_mount(subject),
        _bench_moved(subject),
        _missing_sensors(subject),
        _corrected(subject),
        disclosure(subject),
        *((note,) for note in subject.result.notes),
    )
    return tuple(line for line in found if line)


def _unsettled_points(subject: Subject) -> Line:
    points = [p for p in subject.result.points if not leads(p) and subject.role(p.point) is not PointRole.IDLE]
    if not points:
        return ()
    names = joined([(point_name(p.name), f" ({p.verdict})") for p in points])
    return ("Not settled: ", *names, ". These figures are shown with that mark, lead nothing and are not compared.")


def _over_limit(subject: Subject) -> Iterator[Line]:
    """Yield each test point whose figures are of another setting, since its power limit was not applied."""
    for point in subject.result.points:
        if over := point.over_limit:
            drew: Line = (" drew ", num(over.power), " where its limit is ", setting(round(over.limit_w), "W"))
            end = ": the power limit was not applied. These figures are shown with that mark and are not compared."
            yield (point_name(point.name), *drew, end)


def _points_by_hand(subject: Subject) -> Line:
    points = [p for p in subject.result.points if by_hand(p)]
    if not points:
        return ()
    allowance = subject.protocol.by_hand_allowance_k
    names = joined([(point_name(p.name),) for p in points])
    if allowance is None:
        return ("Read by hand: ", *names, ". These figures are shown with that mark and are not compared.")
    start: Line = ("Read by hand: ", *names, ". The protocol allows for ", setting(allowance, "K"))
    return (*start, " either way that such a rise may lack of rest, and with that it is compared.")


def _outside_band(subject: Subject) -> Line:
    points = [p for p in subject.result.points if any(r.ambient_in_band is False for r in p.runs)]
    if not points:
        return ()
    band = subject.protocol.ambient
    limits: Line = (setting(band.min_c, "degC"), " to ", setting(band.max_c, "degC"))
    start: Line = ("Ambient was outside the protocol's band (", *limits, ") at ")
    return (*start, *joined([(point_name(p.name),) for p in points]), ". These runs do not compare directly.")


def _one_mount(subject: Subject) -> Line:
    if subject.result.mounts > 1:
        return ()
    note = subject.stock.mount_note if subject.stock else ""
    return ("One mount only: how much a remount would change the figures was not measured here. ", note)


def _bench_moved(subject: Subject) -> Line:
    closing = next((p for p in subject.result.points if subject.role(p.point) is PointRole.CLOSING), None)
    stock = subject.stock
    change = closing.changes.get("core_rise") if closing else None
    if change is None or closing is None or stock is None or not (settled(closing) and settled(stock)):
        return ()
    moved = abs(change.absolute.value) > change.absolute.expanded()
    ending = "so the bench moved during the session." if moved else "so the bench did not measurably move."
    start = "Stock was run again at the end: the core's rise differed by "
    return (start, num(change.absolute, sign=True), ", ", ending)


def _missing_sensors(subject: Subject) -> Line:
    kinds = {kind for p in subject.result.points for kind in p.figures}
    absent = (s for s in (MEMORY, HOTSPOT) if kinds.isdisjoint((s.temperature, s.rise)))
    missing = [(f"{s.name.lower()} temperature",) for s in absent]
    return ("Not measured: ", *joined(missing), ".") if missing and kinds else ()


def _corrected(subject: Subject) -> Line:
    corrections = subject.bundle.corrections
    if not corrections:
        return ()
    said = "was corrected" if len(corrections) == 1 else "were corrected"
    link = Name(text="what changed and why", href=f"{subject.href}#corrections")
    return (f"{count(len(corrections), 'figure')} on this page {said}: ", link, ".")


def disclosure(subject: Subject) -> Line:
    """Return where the cooler came from; empty where the tester did not say."""
    supplied = subject.bundle.supplied_by
    return (_SUPPLIED[str(supplied)],) if supplied else ()


def line_sentences(subject: Subject) -> tuple[Line, ...]:
    """Return one sentence for each line or curve of rise on power."""
    return tuple(_line_sentence(kind, line) for kind, line in subject.result.lines.items())


def _line_sentence(kind: str, line: PowerLine) -> Line:
    what = next(sensor.name.lower() for sensor in SENSORS if sensor.rise == kind)
    low, high = (setting(round(watts), "W") for watts in (line.low_w, line.high_w))
    between: Line = ("Between ", low, " and ", high)
    if not line.fits:
        return (*between, f" neither a line nor a curve describes the {what}'s rise; each test point stands alone.")
    if line.is_curve:
        ends = (num(line.slope_at(watts)) for watts in (line.low_w, line.high_w))
        slope: Line = joined([(end, " at ", watts) for end, watts in zip(ends, (low, high), strict=True)])
        start: Line = (f"Over board power the {what}'s rise follows a curve: it grows by ", *slope, ".")
        return (*start, _off_the_line(line), " Nothing is said outside this range.")
    mean = num(line.stated_slope)
    return (
        *between,
        f" the {what}'s rise grows by ",
        mean,
        " with board power.",
        _off_the_line(line),
        " Nothing is said outside this range.",
    )


def _off_the_line(line: PowerLine) -> str:
    if line.lack_of_fit == 0:
        return ""
    return (
        f" The points lie off the {line.shape} by about {line.lack_of_fit:.1g}{NO_BREAK}K, which its band allows for."
    )


def sweep_sentences(subject: Subject) -> tuple[Line, ...]:
    """Return where frames cost least energy, and what the last tenth of stock's rate costs; empty without a sweep."""
    sweep = subject.result.sweep
    best = subject.result.point(sweep.best) if sweep else None
    if sweep is None or best is None:
        return ()
    first: Line = (
        "Most frames for their energy, of stock and lowered limits: ",
        point_name(best.name),
        ", ",
        num(sweep.best_efficiency),
        ".",
    )
    if sweep.last_tenth is None:
        return (first,)
    return (first, ("Giving up a tenth of stock's frame rate saves ", num(sweep.last_tenth), " of board power."))
