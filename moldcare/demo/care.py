"""Which rules the demo plant's molds have, and how they were adjusted there.

Starting values of the rule sets, loosened or tightened as a plant does after a year; invented.
"""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from moldcare.demo.catalog import PHASE_OUT, SPORADIC, MoldSpec

# rules whose trouble can stop a run, with what is then seen: finding, defect, mechanism
TROUBLE: dict[str, tuple[str, str, str]] = {
    "Wipe the vents": ("burn marks at the end of fill", "burn", "clogging"),
    "Clean the vents, inserts out": ("short shots, vents closed", "short_shot", "clogging"),
    "Grease the guides": ("squeak while opening, pins dry", "", "wear"),
    "Grease slides and lifters": ("a slide hangs, drag marks", "drag_mark", "wear"),
    "Take the ejector pins out": ("flash round ejector pins", "flash", "wear"),
    "Change the springs, whole set": ("ejector plate does not come back", "", "fatigue"),
    "Change the O-rings": ("water at the parting line", "stain", "leakage"),
    "Descale the circuits": ("parts warp, return water hot", "warpage", "clogging"),
    "Take bubblers and baffles out": ("a core runs hot, parts stick", "sink", "clogging"),
    "Check the hot runner electrically": ("a zone does not reach its set point", "", "wear"),
    "Take tips and valve pins out": ("drool at one drop", "other", "wear"),
    "Look at the finish": ("haze on the part", "gloss_change", "wear"),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class RulePlan:
    """A rule of a set as a mold has it: which columns differ, and why."""

    set_name: str
    name: str
    changes: dict[str, Any] = field(default_factory=dict)
    reason: str = ""


# set, rule, changed columns: what the plant made of the starting value, for every mold alike
_PLANT: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("every mold", "Wipe the vents", {"count_base": 60_000, "period_n": 21}),
    ("every mold", "Clean the vents, inserts out", {"count_base": 250_000, "period_n": 270}),
    ("every mold", "Measure the vent depths", {"count_base": 1_500_000, "period_n": 730}),
    ("every mold", "Grease the guides", {"count_base": 150_000, "period_n": 60}),
    ("every mold", "Inspect, quick", {"period_n": 90}),
    ("every mold", "Inspect, full", {"count_base": 600_000}),
    ("every mold", "Test the flow of the circuits", {"period_n": 180, "hours_limit": 1800}),
    ("every mold", "Descale the circuits", {}),
    ("every mold", "Change the O-rings", {"event": ""}),
    ("every mold", "Test for leaks", {"period_n": 270, "event": ""}),
    ("every mold", "Take the ejector pins out", {"count_base": 400_000}),
    ("every mold", "Change the springs, whole set", {"count_base": 1_200_000}),
    ("every mold", "Protect against rust", {"event": ""}),
    ("every mold", "Check the counter", {"period_n": 180, "event": ""}),
    ("slides and lifters", "Grease slides and lifters", {"count_base": 100_000, "period_n": 35}),
    ("A-grade finish", "Look at the finish", {"count_base": 150_000, "period_n": 120}),
    ("bubblers and baffles", "Take bubblers and baffles out", {}),
    ("hot runner", "Check the hot runner electrically", {"period_n": 120}),
    ("hot runner", "Take tips and valve pins out", {"count_base": 1_500_000}),
)
# what molds of the lower classes do without, and what those that seldom run do without, too
_NOT_ON_SMALL = {
    "Clean the vents, inserts out",
    "Measure the vent depths",
    "Test the flow of the circuits",
    "Descale the circuits",
    "Change the O-rings",
    "Take the ejector pins out",
    "Change the springs, whole set",
    "Check the counter",
}
_NOT_ON_SELDOM = {
    "Measure the vent depths",
    "Test the flow of the circuits",
    "Change the O-rings",
    "Change the springs, whole set",
}
_WAITS = {"Wipe the vents", "Grease the guides", "Inspect, quick", "Grease slides and lifters",
          "Look at the finish", "Check the hot runner electrically",
          "Test the flow of the circuits", "Check the counter", "Clean the vents, inserts out",
          "Take the ejector pins out"}  # fmt: skip
_NEEDS = {
    "slides and lifters": "slides",
    "A-grade finish": "polish",
    "bubblers and baffles": "bubblers",
    "hot runner": "hot",
}
HARD_SHARE = 1.35


def plans_of(spec: MoldSpec, *, anchor_on: date) -> list[RulePlan]:
    """Return the rules that a mold has."""
    small = spec.mold_class in {"104", "105"}
    seldom = spec.usage in {SPORADIC, PHASE_OUT} and spec.mold_class != "102"
    plans = []
    for set_name, name, plant in _PLANT:
        mark = _NEEDS.get(set_name)
        if mark and mark not in spec.has:
            continue
        if (small and name in _NOT_ON_SMALL) or (seldom and name in _NOT_ON_SELDOM):
            continue
        if name == "Check the counter" and "own" not in spec.has:
            continue
        changes = dict(plant)
        if name in _WAITS and changes:
            changes["calendar_counts"] = "waits_while_stored"
        if name == "Wipe the vents" and spec.resin_group in {"gassy", "corrosive"}:
            changes |= {"count_base": 100_000, "period_n": 10}
        _harden(spec, name, changes)
        if name == "Inspect, full" and spec.owner == "C":
            # the customer asks for it on fixed dates
            changes |= {"anchor_on": anchor_on, "count_base": None, "hard_days": 400}
        plans.append(
            RulePlan(
                set_name=set_name,
                name=name,
                changes=changes,
                reason=_why(name, changes),
            )
        )
    return plans


def _harden(spec: MoldSpec, name: str, changes: dict[str, Any]) -> None:
    """Put a hard limit on what must not go on: by count, or by days for closures."""
    base = changes.get("count_base")
    if spec.mold_class in {"101", "102"} and base:
        if name in {"Clean the vents, inserts out", "Take the ejector pins out"}:
            changes["hard_count"] = int(base * HARD_SHARE)
        if name == "Change the springs, whole set":
            changes["hard_count"] = int(base * 1.2)
    if spec.owner == "C" and name == "Descale the circuits":
        changes["hard_days"] = 440
    if spec.resin_group == "corrosive" and name == "Wipe the vents":
        changes["hard_days"] = 14
    if "own" in spec.has and name == "Test the flow of the circuits" and spec.owner == "A":
        changes["hard_hours"] = 2000


def _why(name: str, changes: dict[str, Any]) -> str:
    said = "Adjusted from the starting value after a year of our own findings; invented."
    if "hard_count" in changes or "hard_days" in changes:
        return f"{said} Beyond the hard limit parts were scrapped."
    return said
