"""The small archive many times over: as large as an archive of many years."""

from __future__ import annotations

from dataclasses import replace

from builder.comparison import Tested
from tests.support.site_data import catalogue, results

FULL = ("slab-on-780", "riffle-on-780", "stock-on-780")  # each with all seven test points


def many(copies: int, *, cards: int = 1) -> Tested:
    """The full bundles of the small archive, each so many times, on so many cards."""
    small, found = catalogue(), results()
    names = [f"card-{n:02}" for n in range(cards)]
    bundles, made = {}, {}
    for number in range(copies):
        card = names[number % cards]
        for key in FULL:
            name = f"{key.split('-')[0]}-{number:04}"
            tested = small.bundles[key].tested.replace(year=2016 + number % 11)
            bundles[name] = small.bundles[key].model_copy(update={"card": card, "tested": tested})
            made[name] = replace(found[key], bundle=name)
    shown = {name: small.cards["orrery-780"].model_copy(update={"name": f"Orrery {name[5:]}"}) for name in names}
    archive = small.archive.model_copy(update={"moved": {}})
    changed = small.model_copy(update={"bundles": bundles, "cards": shown, "archive": archive})
    return Tested(catalogue=changed, results=made)
