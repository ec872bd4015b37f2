"""Every claim that published pages make in words and tables, read as a reader reads them, beside the truth.

Each kind of sentence has one pattern here. `KINDS` names what the audit must find: where a page's words change and a
kind is no longer found, nothing would be counted, so the audit says which were not read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from builder.comparison import Tested
from builder.core.results import FIGURES, Figure, Verdict
from tests.studies.claims import EQUAL_K, Claim, figure_truth, is_wrong
from tests.studies.invented_truth import Cooler, World
from tests.studies.page_words import Said, page_words

NUMBER = r"(?P<value>[+-]?\d[\d,]*\.?\d*) ± (?P<u>\d[\d,]*\.?\d*)"
NAME = r"(?:Own cooler|Cooler \d)"
NAMES = re.compile(NAME)
PLACES = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
RISE_OF = {"Core over ambient": "core", "Memory over ambient": "memory"}
LABELS = {k.name: kind for kind, k in FIGURES.items()}


@dataclass(frozen=True, kw_only=True, eq=False)
class Site:
    """The pages of an archive with its truth: words by address, and which coolers each order on a card's page lists."""

    world: World
    tested: Tested
    words: Mapping[str, tuple[Said, ...]]
    listed: dict[str, dict[str, None]] = field(default_factory=dict)

    def rise(self, name: str, section: str) -> float:
        """Return the true rise in K that an order of a card's page is about."""
        sensor = "memory" if "memory" in section else "core"
        watts = self.world.reference_w if section.endswith("-reference") else None
        point = re.sub(r"^at-a-plain-|-memory-rise$|-reference$", "", section)
        return self.world.cooler_rise(self.world.by_name[name], point, sensor, watts)


def page_claims(world: World, tested: Tested, pages: Mapping[str, str]) -> Iterator[Claim]:
    """Give every claim of an archive's pages; `pages` holds HTML by address."""
    site = Site(world=world, tested=tested, words={path: page_words(html) for path, html in pages.items()})
    for said in site.words.get("cards/plain.html", ()):
        if said.row in world.by_name and said.section.startswith("at-") and said.column == "Cooler":
            site.listed.setdefault(said.section, {})[said.row] = None
    for path, words in site.words.items():
        for said in words:
            for read in READERS:
                yield from read(site, path, said)


# --- who leads


def _leads(site: Site, path: str, said: Said) -> Iterator[Claim]:
    found = re.fullmatch(rf"(?P<who>{NAME})(?: \(.*\))? (?:keeps the \w+ coolest|is first) of .*", said.text)
    if found and said.tag == "p":
        false = _alone_in_front(site, said.section, found["who"], [])
        yield Claim(about=f"page: {WHO_LEADS}", where=f"{path}#{said.section}: {said.text}", false=false)


def _alone_in_front(site: Site, section: str, who: str, tied: list[str]) -> bool | None:
    """Return whether it is false that a cooler is cooler than all of an order but those it is tied with.

    None where there are no others.
    """
    behind = [name for name in site.listed.get(section, ()) if name not in (who, *tied)]
    near = (site.rise(name, section) - site.rise(who, section) < EQUAL_K for name in behind)
    return any(near) if behind else None


def _share_first(site: Site, path: str, said: Said) -> Iterator[Claim]:
    if said.tag == "p" and said.text.endswith("cannot be told apart: they share first place."):
        tied = NAMES.findall(said.text)
        if not re.search(r"\d+ others", said.text):
            false = _alone_in_front(site, said.section, tied[0], tied)
            yield Claim(about=f"page: {WHO_LEADS}", where=f"{path}#{said.section}: {said.text}", false=false)


def _standing(site: Site, path: str, said: Said) -> Iterator[Claim]:
    found = re.search(r"It takes (\w+) place of (\d+) comparable .*?on this card(.*)", said.text)
    if not found or said.tag != "p":
        return
    who = _whose(site, path, said)
    stock = "at-a-plain-stock"
    others = [site.rise(name, stock) - site.rise(who, stock) for name in site.listed.get(stock, ()) if name != who]
    better = PLACES.index(found[1])
    others_tied = re.search(r"(\d+) others", found[3])
    tied = len(NAMES.findall(found[3])) + (int(others_tied[1]) if others_tied else 0)
    worse = int(found[2]) - 1 - better - tied
    false = sum(d < -EQUAL_K for d in others) < better or sum(d > EQUAL_K for d in others) < worse
    yield Claim(about=f"page: {STANDING}", where=f"{path}#{said.section}: {said.text}", false=false)


def _whose(site: Site, path: str, said: Said) -> str:
    """Return the cooler that a page, or an entry of the home page, is about."""
    bundle = PurePosixPath(path).stem
    if bundle in site.world.by_bundle:
        return site.world.by_bundle[bundle].cooler.name
    return str(NAMES.findall(said.heading)[0])


def _chart_leads(site: Site, path: str, said: Said) -> Iterator[Claim]:
    found = re.match(rf"(?P<what>[\w ]+): lowest with (?P<who>{NAME})", said.text)
    if found and found["what"] in RISE_OF and said.tag == "p":
        tied = NAMES.findall(said.text.partition("Not told apart from")[2])
        section = "at-a-plain-stock" if found["what"] == "Core over ambient" else "at-a-plain-stock-memory-rise"
        false = _alone_in_front(site, section, found["who"], tied)
        yield Claim(about=f"page: {CHART}", where=f"{path}#{said.section}: {said.text}", false=false)


# --- two coolers beside each other


def _cooler_than(site: Site, path: str, said: Said) -> Iterator[Claim]:
    pattern = rf"(?P<a>{NAME})[^.]*? is {NUMBER} \S+ (?P<way>\w+) than (?P<b>{NAME})(?:, tested [\d-]+)?\."
    found = re.fullmatch(pattern, said.text)
    if not found or said.tag not in {"p", "td"}:
        return
    kind = said.row if said.tag == "td" else "Core over ambient"
    if kind not in RISE_OF and LABELS.get(kind) in {None, "core_temperature", "memory_temperature"}:
        kind = "Core over ambient"  # a table of pairs, whose rows are named by the two
    coolers = [site.world.by_name[found[name]] for name in ("a", "b")]
    a, b = (_true(site, cooler, kind) for cooler in coolers)
    false = _not_so(a, b, found["way"])
    yield Claim(about=f"page: {COOLER_THAN}", where=f"{path}: {kind}: {said.text}", false=false)


def _true(site: Site, cooler: Cooler, kind: str) -> float:
    """Return a figure at stock in kelvins at stock's power, so that one limit serves; 0 where all are equal."""
    if "rise per watt" in kind or kind in RISE_OF:
        return site.world.cooler_rise(cooler, "stock", "memory" if "emory" in kind else "core")
    return 0.0


def _not_so(a: float, b: float, way: str) -> bool:
    return is_wrong(a - b, first_cooler=way in {"cooler", "lower", "slower", "smaller"})


def _pair_difference(site: Site, path: str, said: Said) -> Iterator[Claim]:
    if said.column.startswith("Difference") and said.row in RISE_OF and path.startswith("compare/"):
        names = NAMES.findall(said.caption)
        a, b = (_true(site, site.world.by_name[name], said.row) for name in names[:2])
        yield from _intervals(PAIR_TABLE, path, said, a - b)


def _order_table(site: Site, path: str, said: Said) -> Iterator[Claim]:
    if path != "cards/plain.html" or said.row not in site.world.by_name or not said.caption.endswith("best first"):
        return
    if said.column.startswith(("Behind the first", "Core rise", "Memory rise")):
        ahead = next(iter(site.listed[said.section])) if said.column.startswith("Behind") else None
        true = site.rise(said.row, said.section) - (site.rise(ahead, said.section) if ahead else 0.0)
        judged = ahead or site.world.declared_spread  # else the figure is that of the mounts that were tested
        about = REFERENCE_TABLE if said.section.endswith("-reference") else ORDER_TABLE
        yield from _intervals(about, path, said, true) if judged else ()
    elif said.column.startswith("Core temp") and said.section.endswith("-reference") and site.world.declared_spread:
        yield from _intervals(REFERENCE_TABLE, path, said, site.world.ambient_c + site.rise(said.row, said.section))


# --- what one result says of itself


def _verdict(site: Site, path: str, said: Said) -> Iterator[Claim]:
    if said.tag != "p" or not said.text.startswith("At stock settings the") or "results/" not in path:
        return
    figures = _stock_figures(site, path)
    for kind, words in (("core_rise", "K above ambient"), ("board_power", "W board power")):
        found = re.search(rf"{NUMBER} {words}", said.text)
        if found and kind in figures:
            yield from _rendered(site, VERDICT, path, figures[kind], found)


def _at_least(site: Site, path: str, said: Said) -> Iterator[Claim]:
    """Give the bound of a run that had not settled, which leads its page instead of a figure."""
    found = re.search(r"At rest the core would be at least (\d+\.?\d*) K", said.text)
    if found and said.tag == "p" and path.startswith("results/"):
        test = site.world.by_bundle[PurePosixPath(path).stem]
        true = site.world.rise(test.id, "stock", mount_k=test.mean_k)
        yield Claim(about=f"page: {AT_LEAST}", where=f"{path}: {said.text}", false=true < float(found[1]))


def _headline(site: Site, path: str, said: Said) -> Iterator[Claim]:
    kind, figures = LABELS.get(said.term, ""), _stock_figures(site, path)
    found = re.match(NUMBER, said.text)
    if said.tag == "dd" and kind in figures and found:
        yield from _rendered(site, HEADLINE, path, figures[kind], found)


def _stock_figures(site: Site, path: str) -> Mapping[str, Figure]:
    point = site.tested.point(PurePosixPath(path).stem, "stock") if path.startswith("results/") else None
    return point.figures if point and point.verdict is Verdict.SETTLED else {}


def _figure_truth(site: Site, path: str, figure: Figure) -> float:
    true = figure_truth(site.world, PurePosixPath(path).stem, "stock", figure)
    return float("nan") if true is None else true


def _rendered(site: Site, about: str, path: str, figure: Figure, found: re.Match[str]) -> Iterator[Claim]:
    true = _figure_truth(site, path, figure)
    if true == true:  # noqa: PLR0124 - not for kinds without a truth
        yield Claim(about=f"page: {about}", where=f"{path}: {found[0]}", holds=_holds(found, true))


def _bench_moved(_: Site, path: str, said: Said) -> Iterator[Claim]:
    if said.text.startswith("Stock was run again at the end"):
        moved = "so the bench moved" in said.text
        found = re.search(NUMBER, said.text)
        held = _holds(found, 0.0) if found else None
        yield Claim(about=f"page: {BENCH}", where=f"{path}: {said.text}", false=moved, holds=held)


def _sweep(site: Site, path: str, said: Said) -> Iterator[Claim]:
    if said.tag != "p":
        return
    bundle = PurePosixPath(path).stem
    if (found := re.match(r"Most frames (?:for their energy|per joule): (\w+(?: \d+)?)", said.text)) and (
        sweep := site.tested.results[bundle].sweep
    ):
        best = site.world.most_frames(bundle, sweep.points).replace("-", " ").capitalize()
        yield Claim(about=f"page: {MOST_FRAMES}", where=f"{path}: {said.text}", false=found[1] != best)
    if found := re.search(rf"saves {NUMBER} W", said.text):
        held = _holds(found, site.world.saved())
        yield Claim(about=f"page: {SAVES}", where=f"{path}: {said.text}", holds=held)


def _intervals(about: str, path: str, said: Said, true: float) -> Iterator[Claim]:
    if found := re.match(NUMBER, said.text):
        where = f"{path}: {said.caption}: {said.row}: {said.text}"
        yield Claim(about=f"page: {about}", where=where, holds=_holds(found, true))


def _holds(found: re.Match[str], true: float) -> bool:
    """Return whether an interval as it is printed holds a true value."""
    value, u = (float(found[name].replace(",", "")) for name in ("value", "u"))
    return abs(value - true) <= u


WHO_LEADS = "who leads an order"
STANDING = "which place a result takes"
CHART = "who is lowest in a chart"
COOLER_THAN = "who is cooler by how much"
PAIR_TABLE = "differences in tables of pairs"
ORDER_TABLE = "tables of orders"
REFERENCE_TABLE = "tables at reference conditions"
VERDICT = "a result's first sentence"
AT_LEAST = "at least so much"
HEADLINE = "large figures of a result"
BENCH = "whether the bench moved"
MOST_FRAMES = "most frames for their energy"
SAVES = "what a tenth of the frames saves"
KINDS = tuple(
    f"page: {kind}"
    for kind in (
        WHO_LEADS, STANDING, CHART, COOLER_THAN, PAIR_TABLE, ORDER_TABLE, REFERENCE_TABLE, VERDICT, AT_LEAST, HEADLINE,
        BENCH, MOST_FRAMES, SAVES,
    )
)  # fmt: skip
READERS: tuple[Callable[[Site, str, Said], Iterator[Claim]], ...] = (
    _leads,
    _share_first,
    _standing,
    _chart_leads,
    _cooler_than,
    _pair_difference,
    _order_table,
    _verdict,
    _at_least,
    _headline,
    _bench_moved,
    _sweep,
)
