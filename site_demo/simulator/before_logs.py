"""The channel's first episodes, from before it logged: figures that were read off displays when a run ended."""

from __future__ import annotations

import datetime as dt

from scenario import BundleSpec, MountSpec, RunSpec, episode

_POINTS = ("stock", "power-80")


def _old(  # noqa: PLR0913 - all but one named
    id_: str, *, cooler: str, date: str, room_c: float, minutes: float, head: tuple[int, str, str, str], summary: str
) -> BundleSpec:
    number, title, published, length = head
    note = f"Read from the displays after {minutes:.0f} minutes."
    runs = tuple(RunSpec(point=point, minutes=minutes, every_s=5.0, note=note) for point in _POINTS)
    return BundleSpec(
        id=id_,
        card="orrery-780",
        cooler=cooler,
        bench="back-room",
        protocol="brief-5",
        by_hand=True,
        summary=summary,
        head={
            "supplied_by": "bought",
            "episode": episode(number, title, published, length, {"0:00": "The cooler", "4:10": "At the bench"}),
        },
        mounts=(MountSpec(date=dt.date.fromisoformat(date), room_c=room_c, runs=runs),),
    )


BUNDLES = (
    _old(
        "orrery-780-stock-2023-11",
        cooler="orrery-780-stock",
        date="2023-11-18",
        room_c=21.4,
        minutes=20.0,
        head=(0, "How warm is warm?", "2023-11-25", "9:48"),
        summary="The channel's first test, from before it logged anything.",
    ),
    _old(
        "gritstone-solo-on-orrery-780",
        cooler="gritstone-solo",
        date="2024-01-13",
        room_c=20.6,
        minutes=15.0,
        head=(1, "One tower, one evening", "2024-01-20", "11:02"),
        summary="Read off the displays after a quarter of an hour.",
    ),
    _old(
        "lapwing-reed-on-orrery-780",
        cooler="lapwing-reed",
        date="2024-03-09",
        room_c=21.1,
        minutes=15.0,
        head=(2, "A sealed loop on a card", "2024-03-16", "12:31"),
        summary="Stopped after a quarter of an hour, which is soon for a sealed loop.",
    ),
)
