"""Checks over several fields of one document, which need nothing else of the archive."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from zoneinfo import ZoneInfo, available_timezones

from builder.archive.bench import Bench, TimeColumn
from builder.archive.bundle import Bundle, Episode, seconds_into
from builder.archive.catalogue import Card
from builder.archive.fields import Model
from builder.archive.protocol import Protocol
from builder.archive.yaml_text import YamlDoc
from builder.core.errors import Problems, Span, nearest
from builder.core.words import quoted


def check_alone(model: Model, doc: YamlDoc, problems: Problems) -> None:
    """Report what is wrong between the fields of one document."""
    if isinstance(model, Card):
        _check_card(model, doc, problems)
    elif isinstance(model, Bench):
        _check_bench(model, doc, problems)
    elif isinstance(model, Protocol):
        _check_protocol(model, doc, problems)
    elif isinstance(model, Bundle) and model.episode:
        _check_episode(model.episode, doc, problems)


def _check_card(card: Card, doc: YamlDoc, problems: Problems) -> None:
    limits = card.power_limit_pct
    if limits and limits.min > limits.max:
        message = f'"max": expected at least the smallest setting, {limits.min:g}, found {limits.max:g}'
        problems.error("bad-value", doc.value("power_limit_pct", "max"), message)


def _check_protocol(protocol: Protocol, doc: YamlDoc, problems: Problems) -> None:
    band = protocol.ambient
    if band.min_c >= band.max_c:
        where = doc.value("ambient", "max_c" if "max_c" in band.model_fields_set else "min_c")
        message = f"expected an ambient band from low to high, found {band.min_c:g} to {band.max_c:g} °C"
        problems.error("bad-value", where, message)


def _check_bench(bench: Bench, doc: YamlDoc, problems: Problems) -> None:
    sensors = [(s.quantity.value, doc.value("sensors", i, "quantity")) for i, s in enumerate(bench.sensors)]
    _check_distinct("sensor for", sensors, problems)
    readers = [(r.id, doc.value("readers", i, "id")) for i, r in enumerate(bench.readers)]
    _check_distinct("reader", readers, problems)
    for i, reader in enumerate(bench.readers):
        if reader.time:
            _check_time(reader.time, doc, i, problems)


def _check_distinct(noun: str, names: Iterable[tuple[str, Span]], problems: Problems) -> None:
    first: dict[str, Span] = {}
    for name, where in names:
        if name in first:
            message = f"{noun} {quoted(name)} is listed twice, first on line {first[name].line}"
            problems.error("duplicate-id", where, message, "keep one of them, or give one another name")
        first.setdefault(name, where)


def _check_time(time: TimeColumn, doc: YamlDoc, index: int, problems: Problems) -> None:
    if time.zone is not None and not _is_zone(time.zone):
        message = f'"zone": expected a time zone as Europe/Vienna, found {quoted(time.zone)}'
        hint = nearest(time.zone, sorted(available_timezones()))
        problems.error("bad-value", doc.value("readers", index, "time", "zone"), message, hint)
    if time.format is not None and not _is_format(time.format):
        message = f'"format": expected a time format as %Y-%m-%d %H:%M:%S, found {quoted(time.format)}'
        problems.error("bad-value", doc.value("readers", index, "time", "format"), message)


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ValueError, OSError, LookupError):
        return False
    return True


def _is_format(text: str) -> bool:
    """Whether a time written in this format can be read back."""
    sample = dt.datetime(2026, 4, 18, 14, 5, tzinfo=dt.UTC)
    try:
        # A repeated directive surfaces as an error of the expression that the library builds.
        dt.datetime.strptime(sample.strftime(text), text)  # noqa: DTZ007 - only asked whether it can be read
    except (ValueError, re.error):
        return False
    return "%" in text.replace("%%", "")


def _check_episode(episode: Episode, doc: YamlDoc, problems: Problems) -> None:
    if episode.length is None:
        return
    length = seconds_into(episode.length)
    for i, moment in enumerate(episode.moments):
        if seconds_into(moment.at) > length:
            message = f'"at": expected a moment within the video\'s length, {episode.length}, found {moment.at}'
            problems.error("bad-value", doc.value("episode", "moments", i, "at"), message)
