"""Which finished rule restarts which others."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping
from typing import TypeVar

from moldcare.core.errors import CoversInCircle

Rule = TypeVar("Rule", bound=Hashable)


def covered_by(rule: Rule, *, covers: Mapping[Rule, Collection[Rule]]) -> frozenset[Rule]:
    """All rules that a finished rule restarts, directly or through others, without itself.

    Parameters
    ----------
    rule : Rule
        The finished rule, in whatever form names it.
    covers : mapping
        For each rule those that it covers directly; rules that cover none may be left out.

    Returns
    -------
    frozenset
        The order's ticked lines are chosen from these.

    Examples
    --------
    >>> sorted(covered_by("overhaul", covers={"overhaul": ["clean"], "clean": ["wipe"]}))
    ['clean', 'wipe']
    """
    found: set[Rule] = set()
    open_rules = list(covers.get(rule, ()))
    while open_rules:
        one = open_rules.pop()
        if one not in found:
            found.add(one)
            open_rules += covers.get(one, ())
    found.discard(rule)
    return frozenset(found)


def check_covers(covers: Mapping[Rule, Collection[Rule]]) -> None:
    """Refuse covers by which a rule would restart itself.

    Parameters
    ----------
    covers : mapping
        As for `covered_by`.

    Raises
    ------
    CoversInCircle
        The message names the rules of one circle in their order.
    """
    finished: set[Rule] = set()
    for start in covers:
        if start in finished:
            continue
        way: list[Rule] = [start]
        branches = [iter(covers.get(start, ()))]
        while way:
            following = next(branches[-1], None)
            if following is None:
                finished.add(way.pop())
                branches.pop()
            elif following in way:
                circle = [*way[way.index(following) :], following]
                named = " covers ".join(str(rule) for rule in circle)
                raise CoversInCircle(f"A rule cannot cover itself: {named}.")
            elif following not in finished:
                way.append(following)
                branches.append(iter(covers.get(following, ())))
