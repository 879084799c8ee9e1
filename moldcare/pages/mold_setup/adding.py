"""What belongs to a new mold beside itself: its owner, its rule sets, its counter."""

from typing import Any

from django.db import transaction
from django.utils.translation import ngettext

from moldcare.acts.counters import add_counter, fit_counter
from moldcare.acts.doing import Doing
from moldcare.acts.molds import add_mold, add_owner
from moldcare.acts.rules import copy_rule_set
from moldcare.acts.words import tidy
from moldcare.care.meant_for import MoldTraits
from moldcare.care.models import RuleSet
from moldcare.counters.models import Counter
from moldcare.molds.models import Mold, Owner
from moldcare.molds.queries import owner_named
from moldcare.pages.acting import beside
from moldcare.pages.mold_setup.forms import resin_of
from moldcare.pages.rule_sets.proposing import SetChoice, set_choices


def proposed_sets(data: dict[str, Any]) -> tuple[list[tuple[str, str]], list[str]]:
    """Return the sets that a mold may take, those that fit first, and the keys of those."""
    resin_group, filler = resin_of(data["resin"])
    traits = MoldTraits(
        mold_class=data["mold_class"],
        finish=data["finish"],
        resin_group=resin_group,
        filler=filler,
    )
    rows = [each for each in set_choices(traits) if each.size]
    return (
        [(str(each.rule_set.pk), _set_words(each)) for each in rows],
        [str(each.rule_set.pk) for each in rows if each.is_proposed],
    )


def _set_words(each: SetChoice) -> str:
    rules = ngettext("%(n)d rule", "%(n)d rules", each.size) % {"n": each.size}
    return f"{each.rule_set.name} ({rules}, {each.said})"


def add_with_all(done: Doing, *, data: dict[str, Any]) -> Mold:
    """Add the mold, its owner, rules and counter: all of it or nothing."""
    count, (resin_group, filler) = data["opening_count"], resin_of(data["resin"])
    with transaction.atomic():
        added = add_mold(
            done,
            number=data["number"],
            name=data["name"],
            mold_class=data["mold_class"],
            cavity_count=data["cavity_count"],
            owner=owner_of(done, name=data["owner"]),
            finish=data["finish"],
            standard_cycle_s=data["standard_cycle_s"],
            place=data["place"],
            opening_count=count,
            opening_source=_word_of(done) if count else "",
            resin_group=resin_group,
            filler=filler,
        )
        mold = Mold.objects.get(pk=added.row_id)
        wanted = [int(each) for each in data.get("rule_sets", ())]
        for row in RuleSet.objects.filter(pk__in=wanted).order_by("id"):
            copy_rule_set(beside(done, name=f"rules {row.pk}"), mold=mold, rule_set=row)
        if data["counter_digits"]:
            _counter(done, mold=mold, digits=int(data["counter_digits"]), data=data)
    return mold


def _word_of(done: Doing) -> str:
    return f"as entered by {done.person.name}"


def owner_of(done: Doing, *, name: str) -> Owner | None:
    """Return the owner with this name, added where there is none."""
    if not tidy(name):
        return None
    found = owner_named(name)
    if found is not None:
        return found
    return Owner.objects.get(pk=add_owner(beside(done, name="owner"), name=name).row_id)


def _counter(done: Doing, *, mold: Mold, digits: int, data: dict[str, Any]) -> None:
    """Add the counter under the mold's number, or the next that is free, and fit it."""
    label, n = mold.number, 1
    # one that sits on this mold is what the first of two taps fitted
    others = Counter.objects.exclude(fittings__mold=mold)
    while others.filter(label=label).exists():
        n += 1
        label = f"{mold.number} ({n})"
    added = add_counter(beside(done, name="counter"), label=label, digits=digits)
    counter = Counter.objects.get(pk=added.row_id)
    fit_counter(
        beside(done, name="fit"),
        counter=counter,
        on=mold,
        at=done.now,
        value_shown=data["counter_value"],
    )
