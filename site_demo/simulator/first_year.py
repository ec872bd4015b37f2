"""The bundles tested on the first bench, May 2024 to May 2025."""

from __future__ import annotations

import datetime as dt

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

PASTE = "Gullwing 4 (invented)"
AIR_PADS = (("memory", 1.5, 1.3), ("power stages", 2.0, 1.8))
BLOCK_PADS = (("memory", 1.0, 0.9), ("power stages", 1.0, 0.9))
REMOUNT = ("stock", "power-80")

BUNDLES = (
    BundleSpec(
        id="orrery-780-stock-2024-05",
        card="orrery-780",
        cooler="orrery-780-stock",
        bench="back-room",
        protocol="brief-5",
        hand_ambient=True,
        summary="First look at the cooler that later sessions are checked against.",
        head={
            "supplied_by": "bought",
            "episode": episode(
                3,
                "A yardstick for the back room",
                "2024-05-18",
                "14:20",
                {"0:00": "Why a yardstick", "5:10": "At the bench", "9:45": "Results"},
            ),
            "assembly": assembly(PASTE, "as delivered", liquid=False),
        },
        mounts=(
            MountSpec(
                date=dt.date(2024, 5, 11),
                room_c=21.2,
                runs=with_run(runs(BRIEF, AIR_MIN), "idle", minutes=10.0),
                note="As it came out of the box.",
            ),
        ),
    ),
    BundleSpec(
        id="gritstone-twin-on-orrery-780",
        card="orrery-780",
        cooler="gritstone-twin",
        bench="back-room",
        protocol="soak-10",
        hand_ambient=True,
        summary="Two fans and a tall fin stack, mounted three times.",
        head={
            "supplied_by": "maker sample",
            "episode": episode(
                5,
                "Gritstone Twin: does tall help?",
                "2024-06-15",
                "18:02",
                {"0:00": "The cooler", "4:30": "Three mounts", "8:15": "Thermal results", "13:50": "Power and frames"},
            ),
            "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False),
        },
        mounts=(
            MountSpec(
                date=dt.date(2024, 6, 8),
                room_c=22.0,
                runs=with_run(runs(SOAK, AIR_MIN), "power-70", quirk="header-twice"),
            ),
            MountSpec(
                date=dt.date(2024, 6, 9),
                room_c=21.8,
                runs=runs(REMOUNT, AIR_MIN),
                note="Taken off, cleaned, fresh paste.",
            ),
            MountSpec(
                date=dt.date(2024, 6, 10),
                room_c=22.3,
                runs=runs(REMOUNT, AIR_MIN),
                note="Taken off, cleaned, fresh paste.",
            ),
        ),
        corrections=(
            {
                "date": dt.date(2024, 7, 6),
                "figure": "stock/core_rise",
                "was": "41.4 K",
                "now": "40.9 K",
                "reason": "The room of the third mount had been written down 1.5 K too low; the thermometer's own"
                " record shows the right value.",
            },
        ),
    ),
    BundleSpec(
        id="orrery-740-stock",
        card="orrery-740",
        cooler="orrery-740-stock",
        bench="back-room",
        protocol="brief-5",
        hand_ambient=True,
        summary="One mount, on the hottest day of the year; the last run left the ambient band.",
        head={
            "supplied_by": "bought",
            "episode": episode(
                8,
                "Orrery 740 as it comes",
                "2024-08-03",
                "11:36",
                {"0:00": "The card", "3:20": "A hot room", "6:05": "Results"},
            ),
            "assembly": assembly(PASTE, "as delivered", liquid=False),
        },
        mounts=(
            MountSpec(
                date=dt.date(2024, 7, 27),
                room_c=26.4,
                session=True,
                runs=with_run(
                    runs(BRIEF, AIR_MIN),
                    "overclock",
                    room_c=29.6,
                    note="The afternoon sun reached the bench; the room left the band.",
                ),
            ),
        ),
    ),
    BundleSpec(
        id="gritstone-fold-on-orrery-740",
        card="orrery-740",
        cooler="gritstone-fold",
        bench="back-room",
        protocol="brief-5",
        summary="Low profile on a small card: quieter than stock at a like temperature?",
        head={
            "supplied_by": "loan",
            "episode": episode(
                9,
                "Forty-seven millimetres: Gritstone Fold",
                "2024-09-21",
                "12:48",
                {"0:00": "Why so flat", "4:10": "Fit", "7:30": "Results"},
            ),
            "assembly": assembly(PASTE, "line", AIR_PADS, liquid=False),
        },
        mounts=(
            MountSpec(date=dt.date(2024, 9, 14), room_c=21.5, runs=runs(BRIEF, AIR_MIN)),
            MountSpec(date=dt.date(2024, 9, 15), room_c=21.1, runs=runs(BRIEF[1:], AIR_MIN), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="moorhen-riffle-on-orrery-780",
        card="orrery-780",
        cooler="moorhen-riffle",
        bench="back-room",
        protocol="soak-10",
        summary="The first water block of the archive.",
        head={
            "supplied_by": "bought",
            "episode": episode(
                12,
                "Moorhen Riffle: first water",
                "2024-10-26",
                "21:15",
                {"0:00": "Filling the loop", "6:40": "At the bench", "11:05": "Thermal results", "17:20": "Overclock"},
            ),
            "assembly": assembly(PASTE, "cross", BLOCK_PADS, liquid=True),
        },
        mounts=(
            MountSpec(
                date=dt.date(2024, 10, 19),
                room_c=20.6,
                runs=with_run(
                    runs(SOAK, LOOP_MIN, 5.0, ("stock", "power-80", "overclock-raised")), "stock", warm_up=True
                ),
            ),
            MountSpec(
                date=dt.date(2024, 10, 20),
                room_c=20.4,
                runs=runs(REMOUNT, LOOP_MIN, 5.0),
                note="Block taken off, fresh paste and pads.",
            ),
        ),
    ),
    BundleSpec(
        id="orrery-780-stock-2024-11",
        card="orrery-780",
        cooler="orrery-780-stock",
        bench="back-room",
        protocol="brief-5",
        summary="Retest of the yardstick, first winter.",
        head={"supplied_by": "bought", "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False)},
        mounts=(MountSpec(date=dt.date(2024, 11, 23), room_c=19.8, runs=runs(BRIEF, AIR_MIN)),),
    ),
    BundleSpec(
        id="tarn-x9-stock",
        card="tarn-x9",
        cooler="tarn-x9-stock",
        bench="back-room",
        protocol="brief-5",
        summary="The large card as delivered.",
        head={
            "supplied_by": "bought",
            "episode": episode(
                15,
                "Tarn X9 as it comes",
                "2025-01-25",
                "16:40",
                {"0:00": "The card", "5:05": "At the bench", "9:30": "Results"},
            ),
            "assembly": assembly(PASTE, "as delivered", liquid=False),
        },
        mounts=(
            MountSpec(date=dt.date(2025, 1, 18), room_c=19.4, runs=runs(BRIEF, AIR_MIN, 1.0, ("stock", "overclock"))),
            MountSpec(
                date=dt.date(2025, 1, 19),
                room_c=19.7,
                runs=runs(BRIEF[1:], AIR_MIN),
                note="Stock cooler taken off and put back with our paste.",
            ),
        ),
    ),
    BundleSpec(
        id="fenwick-slab-s-on-orrery-740",
        card="orrery-740",
        cooler="fenwick-slab-s",
        bench="back-room",
        protocol="brief-5",
        summary="A small block on a small card.",
        head={
            "supplied_by": "maker sample",
            "episode": episode(
                18,
                "Too much water? Fenwick Slab S on the 740",
                "2025-03-01",
                "13:55",
                {"0:00": "The block", "4:45": "Fit", "8:20": "Results"},
            ),
            "assembly": assembly(PASTE, "dot", BLOCK_PADS, liquid=True),
        },
        mounts=(
            MountSpec(date=dt.date(2025, 2, 22), room_c=20.1, runs=runs(BRIEF, LOOP_MIN, 5.0)),
            MountSpec(date=dt.date(2025, 2, 23), room_c=20.3, runs=runs(BRIEF[1:], LOOP_MIN, 5.0), note="Remounted."),
        ),
    ),
    BundleSpec(
        id="orrery-780-stock-2025-04",
        card="orrery-780",
        cooler="orrery-780-stock",
        bench="back-room",
        protocol="brief-5",
        summary="Retest of the yardstick, last one on the old bench.",
        head={"supplied_by": "bought", "assembly": assembly(PASTE, "cross", AIR_PADS, liquid=False)},
        mounts=(MountSpec(date=dt.date(2025, 4, 5), room_c=21.0, runs=runs(BRIEF, AIR_MIN)),),
    ),
    BundleSpec(
        id="lapwing-loop-on-orrery-780",
        card="orrery-780",
        cooler="lapwing-loop",
        bench="back-room",
        protocol="brief-5",
        summary="A sealed loop with no coolant sensor, read in whole degrees.",
        head={
            "supplied_by": "loan",
            "episode": episode(
                19,
                "Lapwing Loop: sealed and simple",
                "2025-05-24",
                "15:30",
                {"0:00": "What is inside", "5:55": "Waiting for the loop", "10:10": "Results"},
            ),
            "assembly": assembly(PASTE, "cross", BLOCK_PADS, liquid=False),
        },
        mounts=(
            MountSpec(
                date=dt.date(2025, 5, 17),
                room_c=22.4,
                runs=with_run(runs(BRIEF, SEALED_MIN), "overclock", quirk="cut-line"),
            ),
            MountSpec(date=dt.date(2025, 5, 18), room_c=22.1, runs=runs(REMOUNT, SEALED_MIN), note="Remounted."),
        ),
    ),
)
