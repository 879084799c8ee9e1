"""Lives of molds: which counter counted when, what that comes to, and how sure it is."""

from moldcare.counters.life.facts import LifeFacts, life_facts
from moldcare.counters.life.going_on import go_on
from moldcare.counters.life.judgements import Judgements
from moldcare.counters.life.rows import derive_lives, lives_of, segment_rows
from moldcare.counters.life.values import WholeLife
from moldcare.counters.life.whole import whole_life

__all__ = [
    "Judgements",
    "LifeFacts",
    "WholeLife",
    "derive_lives",
    "go_on",
    "life_facts",
    "lives_of",
    "segment_rows",
    "whole_life",
]
