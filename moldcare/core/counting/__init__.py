"""Counting: from counter readings to cycles and shots.

`entry` stands at the door, `judge` says which readings of a counter are accepted, `proposals` and
`doubts` what to ask a person, `life` and `shots` what that makes of a mold and its components, and
`freshness` from when a count is too old to trust.
"""

from moldcare.core.counting.course import CountAt, Course, KnownBy, course_of
from moldcare.core.counting.doubts import OddOneOut, StaleCycle, odd_ones_out, stale_cycle
from moldcare.core.counting.entry import CounterStay, check_entry, read_count, stay_at
from moldcare.core.counting.fold import Piece, fold_to_pieces
from moldcare.core.counting.freshness import half_turn_us, recent_rate, unsure_from
from moldcare.core.counting.judge import extend, judge_counter
from moldcare.core.counting.life import (
    LifeSegment,
    Opening,
    Preference,
    life_points,
    life_segments,
    overlaps,
    source_differences,
    total_at,
)
from moldcare.core.counting.proposals import Proposal, ProposalKind, proposals
from moldcare.core.counting.shots import (
    ComponentStay,
    Dry,
    component_life,
    cycles_of_parts,
    shots_at,
    split_by_shift,
)

__all__ = [
    "ComponentStay",
    "CountAt",
    "CounterStay",
    "Course",
    "Dry",
    "KnownBy",
    "LifeSegment",
    "OddOneOut",
    "Opening",
    "Piece",
    "Preference",
    "Proposal",
    "ProposalKind",
    "StaleCycle",
    "check_entry",
    "component_life",
    "course_of",
    "cycles_of_parts",
    "extend",
    "fold_to_pieces",
    "half_turn_us",
    "judge_counter",
    "life_points",
    "life_segments",
    "odd_ones_out",
    "overlaps",
    "proposals",
    "read_count",
    "recent_rate",
    "shots_at",
    "source_differences",
    "split_by_shift",
    "stale_cycle",
    "stay_at",
    "total_at",
    "unsure_from",
]
