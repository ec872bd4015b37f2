"""The bundles tested on the second bench, July 2025 to June 2026."""

from __future__ import annotations

import datetime as dt

from first_year import AIR_PADS, BLOCK_PADS, REMOUNT
from scenario import (
    AIR_MIN,
    BRIEF,
    LOOP_MIN,
    SEALED_MIN,
    SOAK,
    BundleSpec,
    MountSpec,
    assembly,
    episode,
    runs,
    with_run,
)

PASTE = "Gullwing 5 (invented)"
HEADLINE = ("stock", "power-80")

BUNDLES = (
    BundleSpec(
        id="orrery-780-stock-2025-07",
        card="orrery-780",
        cooler="orrery-780-stock",
        bench="open-frame",
        protocol="brief-5",
        summary="Retest of the yardstick, first one on the new bench.",
        head={"supplied_by": "bought", "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False)},
        mounts=(
            MountSpec(date=dt.date(2025, 7, 12), room_c=23.6, runs=runs(BRIEF, AIR_MIN)),
            MountSpec(date=dt.date(2025, 7, 13), room_c=23.9, runs=runs(HEADLINE, AIR_MIN), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="fenwick-slab-s-on-orrery-780",
        card="orrery-780",
        cooler="fenwick-slab-s",
        bench="open-frame",
        protocol="soak-10",
        summary="The small block on a larger card; one run was still drifting when it ended.",
        head={
            "supplied_by": "maker sample",
            "episode": episode(
                22,
                "Fenwick Slab S, second helping",
                "2025-09-06",
                "19:12",
                {"0:00": "A new bench", "5:20": "The run that drifted", "9:50": "Thermal results", "15:00": "Frames"},
            ),
            "assembly": assembly(PASTE, "cross", BLOCK_PADS, liquid=True),
        },
        mounts=(
            MountSpec(
                date=dt.date(2025, 8, 30),
                room_c=23.1,
                runs=with_run(
                    with_run(runs(SOAK, LOOP_MIN, 5.0), "power-90", quirk="gaps"),
                    "power-60",
                    minutes=31.5,
                    chill_k=16.0,
                    note="Topped up with coolant from the cellar just before; the loop started well under the room.",
                ),
            ),
            MountSpec(date=dt.date(2025, 8, 31), room_c=22.8, runs=runs(REMOUNT, LOOP_MIN, 5.0), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="gritstone-twin-on-tarn-x9",
        card="tarn-x9",
        cooler="gritstone-twin",
        bench="open-frame",
        protocol="brief-5",
        summary="Air on the large card.",
        head={
            "supplied_by": "maker sample",
            "episode": episode(
                24,
                "Gritstone Twin meets the Tarn X9",
                "2025-10-11",
                "14:44",
                {"0:00": "Fit", "4:00": "At the bench", "8:05": "Results"},
            ),
            "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False),
        },
        mounts=(
            MountSpec(
                date=dt.date(2025, 10, 4),
                room_c=21.3,
                runs=with_run(runs(BRIEF, AIR_MIN, 2.0, ("stock", "overclock")), "power-80", quirk="glitch"),
            ),
            MountSpec(date=dt.date(2025, 10, 5), room_c=21.0, runs=runs(BRIEF[1:], AIR_MIN), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="lapwing-loop-on-tarn-x9",
        card="tarn-x9",
        cooler="lapwing-loop",
        bench="open-frame",
        protocol="brief-5",
        sample="b",
        summary="A sealed loop on a borrowed specimen of the large card.",
        head={
            "supplied_by": "loan",
            "episode": episode(
                26,
                "Lapwing Loop on a borrowed Tarn X9",
                "2025-11-22",
                "12:20",
                {"0:00": "Another specimen", "4:50": "At the bench", "8:40": "Results"},
            ),
            "assembly": assembly(PASTE, "cross", BLOCK_PADS, liquid=False),
        },
        mounts=(
            MountSpec(
                date=dt.date(2025, 11, 15),
                room_c=20.2,
                runs=runs(BRIEF, SEALED_MIN, 2.0, ("stock",)),
                note="The card went back to its owner the next day; there was time for one mount only.",
            ),
        ),
    ),
    BundleSpec(
        id="orrery-780-stock-2025-12",
        card="orrery-780",
        cooler="orrery-780-stock",
        bench="open-frame",
        protocol="brief-5",
        summary="Retest of the yardstick, second winter.",
        head={"supplied_by": "bought", "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False)},
        mounts=(MountSpec(date=dt.date(2025, 12, 13), room_c=19.6, runs=runs(BRIEF, AIR_MIN)),),
    ),
    BundleSpec(
        id="fenwick-slab-on-tarn-x9",
        card="tarn-x9",
        cooler="fenwick-slab",
        bench="open-frame",
        protocol="soak-10",
        summary="The large block on the large card, mounted three times.",
        head={
            "supplied_by": "bought",
            "episode": episode(
                28,
                "Fenwick Slab on the Tarn X9",
                "2026-01-31",
                "22:05",
                {"0:00": "The block", "7:10": "Three mounts", "11:30": "Thermal results", "18:15": "Raised limit"},
            ),
            "assembly": assembly(PASTE, "cross", BLOCK_PADS, liquid=True),
        },
        mounts=(
            MountSpec(
                date=dt.date(2026, 1, 24),
                room_c=20.9,
                runs=with_run(runs(SOAK, LOOP_MIN, 5.0, ("stock", "overclock-raised")), "stock", warm_up=True),
            ),
            MountSpec(date=dt.date(2026, 1, 25), room_c=20.7, runs=runs(REMOUNT, LOOP_MIN, 5.0), note="Remounted."),
            MountSpec(date=dt.date(2026, 1, 26), room_c=21.0, runs=runs(REMOUNT, LOOP_MIN, 5.0), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="moorhen-riffle-on-tarn-x9",
        card="tarn-x9",
        cooler="moorhen-riffle",
        bench="open-frame",
        protocol="brief-5",
        summary="Close to the Fenwick Slab: too close to call on this bench.",
        head={
            "supplied_by": "bought",
            "episode": episode(
                29,
                "Riffle or Slab? A tie, and why",
                "2026-03-07",
                "17:25",
                {"0:00": "Two blocks", "6:00": "Three mounts each", "10:35": "Results", "14:10": "What a tie means"},
            ),
            "assembly": assembly(PASTE, "cross", BLOCK_PADS, liquid=True),
        },
        mounts=(
            MountSpec(date=dt.date(2026, 2, 28), room_c=20.8, runs=runs(BRIEF, LOOP_MIN, 2.0, ("stock",))),
            MountSpec(date=dt.date(2026, 3, 1), room_c=20.6, runs=runs(BRIEF[1:], LOOP_MIN, 5.0), note="Remounted."),
            MountSpec(date=dt.date(2026, 3, 2), room_c=21.1, runs=runs(BRIEF[1:], LOOP_MIN, 5.0), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="fenwick-slab-on-orrery-780",
        card="orrery-780",
        cooler="fenwick-slab",
        bench="open-frame",
        protocol="soak-10",
        summary="The full session on the card that most of the archive was tested on.",
        head={
            "supplied_by": "maker sample",
            "episode": episode(
                31,
                "Fenwick Slab: the full session",
                "2026-04-25",
                "24:10",
                {"0:00": "What we test", "3:15": "Assembly", "6:40": "Thermal results", "16:30": "Undervolt"},
            ),
            "assembly": assembly(PASTE, "cross", (("memory", 1.5, 1.3), ("power stages", 1.0, 0.9)), liquid=True),
            "photos": (
                {
                    "file": "paste.png",
                    "alt": "Drawing of the card from above: paste as a cross on the die, a pad on each memory chip.",
                    "caption": "Paste and pads before the first mount.",
                },
            ),
        },
        mounts=(
            MountSpec(
                date=dt.date(2026, 4, 18),
                room_c=21.9,
                runs=runs(SOAK, LOOP_MIN, 5.0, ("stock", "power-70", "undervolt", "overclock-raised")),
            ),
            MountSpec(date=dt.date(2026, 4, 19), room_c=21.6, runs=runs(REMOUNT, LOOP_MIN, 5.0), note="Remounted."),
            MountSpec(date=dt.date(2026, 4, 20), room_c=21.8, runs=runs(REMOUNT, LOOP_MIN, 5.0), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="gritstone-fold-on-orrery-780",
        card="orrery-780",
        cooler="gritstone-fold",
        bench="open-frame",
        protocol="brief-5",
        summary="The low-profile cooler past its comfort: more heat than it was made for.",
        head={
            "supplied_by": "loan",
            "episode": episode(
                33,
                "Gritstone Fold at 285 watts",
                "2026-05-30",
                "10:58",
                {"0:00": "A bad idea", "3:30": "At the bench", "6:45": "Results"},
            ),
            "assembly": assembly(PASTE, "line", AIR_PADS, liquid=False),
        },
        mounts=(
            MountSpec(date=dt.date(2026, 5, 23), room_c=22.7, runs=runs(BRIEF, AIR_MIN, 1.0)),
            MountSpec(date=dt.date(2026, 5, 24), room_c=22.9, runs=runs(BRIEF[1:], AIR_MIN), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="orrery-780-stock-2026-06",
        card="orrery-780",
        cooler="orrery-780-stock",
        bench="open-frame",
        protocol="brief-5",
        summary="Retest of the yardstick, two years on.",
        head={"supplied_by": "bought", "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False)},
        mounts=(MountSpec(date=dt.date(2026, 6, 13), room_c=23.3, runs=runs(BRIEF, AIR_MIN)),),
    ),
)
