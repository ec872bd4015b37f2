"""Chart pictures: specification -> SVG for the page, and SVG and PNG for stills."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree as ET

from builder.charts.chart import Chart, Spec
from builder.charts.frame import Frame, still_frame
from builder.charts.labels import clean_text
from builder.charts.style import FONT, PAGE, Palette
from builder.charts.vega import part_of

VL_VERSION = "6.4"
SVG = "http://www.w3.org/2000/svg"
ET.register_namespace("", SVG)


@dataclass(frozen=True, kw_only=True)
class Still:
    """A picture for the video edit: the same drawing as vectors and as pixels, transparent where nothing is drawn."""

    svg: str
    png: bytes


def chart_svg(chart: Chart, *, uid: str) -> str:
    """Return the chart as inline SVG, one element for each of its frames, coloured by the page's CSS variables.

    Elements carry the classes `chart` and `chart-compact` or `chart-wide`, take the width that CSS gives them, and
    hold no style, script or reference to anything outside. `uid` makes their ids unique on a page.
    """
    specs = ((frame, chart.spec_for(frame, PAGE)) for frame in chart.frames)
    return "".join(tidy(draw(spec), dressing(chart, frame, spec, uid)) for frame, spec in specs)


def chart_still(chart: Chart, size: tuple[int, int], palette: Palette) -> Still:
    """Return the chart as a video frame of `size` pixels, with its title, at full rate, in literal colours."""
    svg = still_svg(chart, size, palette)
    return Still(svg=svg, png=png_of(svg))


def still_svg(chart: Chart, size: tuple[int, int], palette: Palette) -> str:
    """Return the vectors of `chart_still` alone."""
    frame = still_frame(*size)
    spec = chart.spec_for(frame, palette)
    return tidy(draw(spec), dressing(chart, frame, spec, chart.id))


def png_of(svg: str, *, scale: float = 1.0) -> bytes:
    """Return a picture's vectors as PNG, transparent where nothing is drawn; `scale` is in pixels for each unit."""
    import vl_convert

    return bytes(vl_convert.svg_to_png(svg, scale=scale))


def draw(spec: Spec) -> str:
    """Return the renderer's own SVG of a specification; nothing is fetched."""
    import vl_convert

    text = json.dumps(spec, allow_nan=False)
    return str(vl_convert.vegalite_to_svg(text, vl_version=VL_VERSION, allowed_base_urls=[]))


# --- what the renderer's SVG lacks, and what it has too much of ---------------------------------------------------

_NUMBER = re.compile(r"-?\d*\.\d+(?:e-?\d+)?|-?\d+e-?\d+")
_NUMERIC = frozenset({"d", "transform", "x", "y", "x2", "y2", "width", "height", "stroke-width", "stroke-dasharray"})
_IDLE = frozenset(
    {("opacity", "1"), ("stroke-width", "1"), ("stroke-dasharray", "1,0"), ("transform", "translate(0,0)")}
)
_DROPPED = frozenset({"class", "style", "aria-roledescription", "aria-hidden", "pointer-events", "font-family"})
_DRAWN = frozenset({"path", "line", "rect", "text", "image"})
_PLACE = r"(?P<command>[ML])(?P<x>-?[\d.]+(?:e-?\d+)?),(?P<y>-?[\d.]+(?:e-?\d+)?)"
_STRAIGHT_PART = re.compile(rf"{_PLACE}|Z")
_STRAIGHT = re.compile(r"(?:[ML]-?[\d.]+(?:e-?\d+)?,-?[\d.]+(?:e-?\d+)?|Z)+")
_SLOTS = {colour: slot for slot, colour in enumerate(PAGE.series, start=1)}
_REFERENCE = re.compile(r"url\(#([^)]*)\)")


@dataclass(frozen=True, kw_only=True)
class Dressing:
    """What a picture is given: id prefix, words, outer size, whether it is of fixed size, and its axes in °F.

    `fahrenheit` stands for the description where readers chose °F; `axes` holds, for `X` and `Y`, what stands at the
    ticks of each panel there. A picture of fixed size is a still, which nobody switches.
    """

    names: str
    frame: str
    title: str
    description: str
    width: str
    height: str
    fixed: bool
    fahrenheit: str = ""
    axes: Mapping[str, Sequence[Sequence[str]]] = field(default_factory=dict)


def dressing(chart: Chart, frame: Frame, spec: Spec, uid: str) -> Dressing:
    """Return what a chart's picture in one frame is given; the size is the specification's own."""
    return Dressing(
        names=f"{uid}-{frame.name}",
        frame=frame.name,
        title=clean_text(chart.title),
        description=clean_text(chart.finding.text),
        fahrenheit=clean_text(chart.finding.fahrenheit),
        width=_short_number(str(spec["usermeta"]["width"])),
        height=_short_number(str(spec["usermeta"]["height"])),
        fixed=frame.still,
        axes=spec["usermeta"]["fahrenheit"],
    )


def tidy(raw: str, dress: Dressing) -> str:
    """Return the renderer's SVG with names for assistive software, ids of its own, and without useless weight.

    The same input gives the same bytes in every process, though the renderer counts its ids through a process.
    """
    root = ET.fromstring(raw)  # noqa: S314 - the renderer's own output, never a file of others
    _give_fahrenheit(root, dress)
    if not dress.fixed:
        _name_parts(root)
    _prune(root)
    _lighten(root)
    _renumber(root, dress.names)
    _dress(root, dress)
    return ET.tostring(root, encoding="unicode")


def _give_fahrenheit(root: ET.Element, dress: Dressing) -> None:
    """Mark texts with what stands for them in °F, as the scripts read it; notes carry it as their description."""
    for text in root.iter(f"{{{SVG}}}text"):
        words = text.attrib.pop("aria-label", "")
        if words and not dress.fixed:
            text.set("data-f", words)
    for direction, panels in () if dress.fixed else dress.axes.items():
        for axis, ticks in zip(_axes(root, direction), panels, strict=True):
            for text, digits in zip(_drawn_as(axis, "axis-label"), ticks, strict=True) if ticks else ():
                text.set("data-f", digits)


def _name_parts(root: ET.Element) -> None:
    """Give marks a name by which scripts find them: the part of their layer, with the slot of a line and its band."""
    named = False
    for group in root.iter(f"{{{SVG}}}g"):
        if part := part_of(group.get("class", "")):
            named = True
            for mark in group:
                slot = _SLOTS.get(mark.get("stroke", "")) or _SLOTS.get(mark.get("fill", ""))
                mark.set("data-part", f"{part}-{slot}" if slot else part)
    for axis in _axes(root, "X") if named else ():
        for role, part in (("axis-tick", "tick"), ("axis-label", "tick-label")):
            for mark in _drawn_as(axis, role):
                mark.set("data-part", part)


def _axes(root: ET.Element, direction: str) -> list[ET.Element]:
    groups = (group for group in root.iter() if "role-axis" in group.get("class", "").split())
    return [group for group in groups if group.get("aria-label", "").startswith(f"{direction}-axis")]


def _drawn_as(axis: ET.Element, role: str) -> list[ET.Element]:
    groups = (group for group in axis.iter() if f"role-{role}" in group.get("class", "").split())
    return [mark for group in groups for mark in group]


def _tag(element: ET.Element) -> str:
    return element.tag.removeprefix(f"{{{SVG}}}")


def _prune(element: ET.Element) -> None:
    for child in list(element):
        _prune(child)
        if _is_nothing(child):
            element.remove(child)
    if any(_is_plain_group(child) for child in element):
        element[:] = [leaf for child in element for leaf in (child if _is_plain_group(child) else [child])]


def _is_nothing(element: ET.Element) -> bool:
    tag = _tag(element)
    if element.get("display") == "none" or element.get("fill") == "transparent":
        return True
    if tag == "g":
        return len(element) == 0
    if element.get("class") in {"background", "foreground"}:
        return element.get("stroke") is None and element.get("fill") is None
    return tag == "text" and not (element.text or len(element))


def _is_plain_group(element: ET.Element) -> bool:
    carried = {"transform", "fill", "stroke", "clip-path", "opacity", "id"}
    kept = {name: text for name, text in element.items() if name in carried and (name, text) not in _IDLE}
    return _tag(element) == "g" and not kept


def _lighten(root: ET.Element) -> None:
    for element in root.iter():
        keep = {name: text for name, text in element.items() if name not in _DROPPED and (name, text) not in _IDLE}
        if _tag(element) not in _DRAWN or "aria-label" not in keep:
            keep.pop("role", None)
            keep.pop("aria-label", None)
        element.attrib = {name: _lighter(name, text) for name, text in keep.items()}


def _lighter(name: str, text: str) -> str:
    if name == "d" and (path := _STRAIGHT.fullmatch(text)):
        return _relative(path.group())
    return _NUMBER.sub(lambda match: _short_number(match.group()), text) if name in _NUMERIC else text


def _relative(path: str) -> str:
    """Return a path of straight lines in steps of whole tenths, which repeat and so compress to half the weight.

    Steps are between rounded places, so that rounding does not add up along the line.
    """
    parts: list[str] = []
    x = y = 0
    start = (0, 0)
    for match in _STRAIGHT_PART.finditer(path):
        if match.group() == "Z":
            parts.append("z")
            x, y = start
            continue
        to_x, to_y = (round(float(number) * 10) for number in match.group("x", "y"))
        parts.append(f"{match.group('command').lower()}{_tenths(to_x - x)}{_tenths(to_y - y, after=True)}")
        x, y = to_x, to_y
        start = (x, y) if match.group("command") == "M" else start
    return "".join(parts)


def _tenths(count: int, *, after: bool = False) -> str:
    text = _short_number(str(count / 10))
    return text if not after or text.startswith("-") else f",{text}"


def _short_number(digits: str) -> str:
    text = f"{float(digits):.1f}".removesuffix(".0")
    return "0" if text == "-0" else text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text


def _renumber(root: ET.Element, prefix: str) -> None:
    ids = (old for element in root.iter() if (old := element.get("id")) is not None)
    known = {old: f"{prefix}-{count}" for count, old in enumerate(ids, start=1)}
    for element in root.iter():
        for name, text in list(element.items()):
            if name == "id":
                element.set(name, known[text])
            elif "url(#" in text and name != "aria-label":
                element.set(name, _REFERENCE.sub(lambda match: f"url(#{known[match.group(1)]})", text))


def _dress(root: ET.Element, dress: Dressing) -> None:
    root.attrib = {
        "class": f"chart chart-{dress.frame}",
        "viewBox": f"0 0 {dress.width} {dress.height}",
        **({"width": dress.width, "height": dress.height} if dress.fixed else {}),
        "role": "img",
        "aria-labelledby": f"{dress.names}-title {dress.names}-desc",
        "font-family": FONT,
    }
    for place, (tag, text) in enumerate((("title", dress.title), ("desc", dress.description))):
        words = ET.Element(f"{{{SVG}}}{tag}", {"id": f"{dress.names}-{tag}"})
        words.text = text
        root.insert(place, words)
    if dress.fahrenheit and not dress.fixed:
        root[1].set("data-f", dress.fahrenheit)
