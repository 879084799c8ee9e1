"""What people should be told of a mold's counts, in words and with the way to settle it."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.care.models import RuleSet
from moldcare.counters.convert import instant_of
from moldcare.counters.models import Life
from moldcare.molds.models import CycleTime
from moldcare.pages.words import count_words, day_words
from moldcare.plant.models import Spot

SECOND_US = 1_000_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Notice:
    """One thing to be told: `do` names the page that settles it, `target` what it is about.

    `state` colors its edge.
    """

    head: str
    say: str
    do: str
    do_label: str
    target: int | None = None
    state: str = "unsure"


def notices_of(
    life: Life | None, *, cycle_time: CycleTime | None, counters: int, spot: Spot | None
) -> list[Notice]:
    """Return what a mold's page says about its counts."""
    found: list[Notice] = []
    if life is not None and life.held_count:
        found.append(_held(life.held_count))
    for kept in life.notices if life else []:
        found += _of_kind(kept, cycle_time=cycle_time)
    if counters == 0 and spot is not None and spot.kind == Spot.Kind.PRESS:
        found.append(
            Notice(
                head=_("Nothing counts it."),
                say=_("Neither the mold nor its press has a counter: what it does is not known."),
                do="counter-add",
                do_label=_("Add a counter"),
            )
        )
    return found


def set_notices(rule_sets: Iterable[RuleSet]) -> list[Notice]:
    """Return what a mold's page says about sets that changed since the mold took them."""
    return [
        Notice(
            head=_("Rule set “%(name)s” changed.") % {"name": row.name},
            say=_("Nothing changes on this mold until somebody looks at it and takes it over."),
            do="mold-rules",
            do_label=_("See what it changes"),
            state="due_soon",
        )
        for row in rule_sets
    ]


def _held(count: int) -> Notice:
    return Notice(
        head=ngettext("%(n)d reading is held.", "%(n)d readings are held.", count) % {"n": count},
        say=_("It is not counted until somebody says what it means.")
        if count == 1
        else _("They are not counted until somebody says what they mean."),
        do="held-readings",
        do_label=_("Look"),
    )


def _of_kind(kept: Mapping[str, Any], *, cycle_time: CycleTime | None) -> Iterator[Notice]:
    match kept["kind"]:
        case "stale_cycle":
            yield _stale(kept, cycle_time=cycle_time)
        case "odd":
            yield Notice(
                head=_("A reading stands out."),
                say=_(
                    "Later readings fit one another, but not it. If it was misread, set it aside."
                ),
                do="held-reading",
                do_label=_("Look"),
                target=kept["reading"],
            )
        case "difference":
            yield Notice(
                head=_("Its own counter and the press's differ."),
                say=_(
                    "From %(from)s to %(to)s its own counted %(own)s cycles, the press's "
                    "%(press)s. Decide which one counts."
                )
                % {
                    "from": day_words(instant_of(kept["from_us"]).date()),
                    "to": day_words(instant_of(kept["to_us"]).date()),
                    "own": count_words(kept["own_cycles"]),
                    "press": count_words(kept["press_cycles"]),
                },
                do="mold-count",
                do_label=_("Decide"),
            )


def _stale(kept: Mapping[str, Any], *, cycle_time: CycleTime | None) -> Notice:
    found = number_format(round(kept["cycle_us"] / SECOND_US, 1), use_l10n=True)
    if cycle_time is not None and cycle_time.standard_s is not None:
        written = number_format(cycle_time.standard_s.normalize(), use_l10n=True)
        say = _(
            "Its readings come from a cycle of about %(found)s s; %(written)s s is written down."
        ) % {"found": found, "written": written}
    else:
        say = _(
            "Its readings come from a cycle of about %(found)s s; no cycle time is written down."
        ) % {"found": found}
    return Notice(
        head=_("The cycle time may be out of date."),
        say=say,
        do="mold-cycle",
        do_label=_("Change the cycle time"),
    )
