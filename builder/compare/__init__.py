"""What compares with what, differences with their uncertainty, order and ties, and values at other conditions."""

from builder.compare.across import AcrossCards, AcrossRow, across_cards
from builder.compare.differences import Difference, difference, two_sided_p
from builder.compare.families import Basis, Family, Judged, LeftOut
from builder.compare.letters import tie_letters
from builder.compare.members import Member, SharedLine, Term
from builder.compare.pairs import (
    ByPsi,
    Comparability,
    Direct,
    NotComparable,
    PointOf,
    PowerRange,
    comparability,
    power_range,
)
from builder.compare.rankings import Ranking, RankRow, family, ranking
from builder.compare.reasons import Reason
from builder.compare.reference import REFERENCE_KINDS, RiseAtPower, line_at, rise_at
from builder.compare.room import RoomEstimate, RoomModel, RoomTemperature, evaluate, room_estimate, room_models
from builder.compare.sidebyside import HeadToHead, Standing, VersusRow, head_to_head
from builder.compare.spread import Mounted, MountTerm, bartlett_p, mount_spreads
from builder.compare.stability import IndividualsChart, Retest, Stability, bench_stability, individuals_chart
from builder.compare.tested import Group, Tested, group_of, groups

__all__ = [
    "REFERENCE_KINDS",
    "AcrossCards",
    "AcrossRow",
    "Basis",
    "ByPsi",
    "Comparability",
    "Difference",
    "Direct",
    "Family",
    "Group",
    "HeadToHead",
    "IndividualsChart",
    "Judged",
    "LeftOut",
    "Member",
    "MountTerm",
    "Mounted",
    "NotComparable",
    "PointOf",
    "PowerRange",
    "RankRow",
    "Ranking",
    "Reason",
    "Retest",
    "RiseAtPower",
    "RoomEstimate",
    "RoomModel",
    "RoomTemperature",
    "SharedLine",
    "Stability",
    "Standing",
    "Term",
    "Tested",
    "VersusRow",
    "across_cards",
    "bartlett_p",
    "bench_stability",
    "comparability",
    "difference",
    "evaluate",
    "family",
    "group_of",
    "groups",
    "head_to_head",
    "individuals_chart",
    "line_at",
    "mount_spreads",
    "power_range",
    "ranking",
    "rise_at",
    "room_estimate",
    "room_models",
    "tie_letters",
    "two_sided_p",
]
