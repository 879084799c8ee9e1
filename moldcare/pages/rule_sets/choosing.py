"""Which molds a set may be taken for: a list that can be narrowed."""

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from moldcare.acts.rules import MOST_MOLDS
from moldcare.care.meant_for import Fit, fit_of, grades_in
from moldcare.care.models import RuleSet, TakenSet
from moldcare.care.set_queries import fitting, meant_for, narrower_sets, traits_of
from moldcare.molds.models import Mold
from moldcare.molds.queries import molds_in_use, molds_matching
from moldcare.pages.rule_sets.forms import WhichMolds
from moldcare.pages.rule_sets.proposing import in_place_words

BEHIND, NOT_TAKEN, ALL = "behind", "not", "all"


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldChoice:
    """A mold that a set may be taken for."""

    mold: Mold
    fit: Fit
    say: str
    is_ticked: bool
    is_up_to_date: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Choices:
    """The molds that were asked for; `further` are those beyond what goes at once."""

    rows: list[MoldChoice]
    further: int
    asked: list[tuple[str, str]]
    is_narrowed: bool


def choices_of(rule_set: RuleSet, *, ask: WhichMolds, ticked: Collection[int] = ()) -> Choices:
    """Return the molds that somebody may choose from, as many as can take a set at once."""
    took = ask.wanted("took")
    molds = list(_molds(rule_set, ask=ask, took=took))
    text = ask.wanted("q").strip()
    if text:
        found = {mold.pk for mold in molds_matching(text)}
        molds = [mold for mold in molds if mold.pk in found]
    finish = ask.wanted("finish")
    if finish:
        molds = [
            mold
            for mold in molds
            if any(grade.startswith(finish) for grade in grades_in(mold.finish))
        ]
    meant, traits = meant_for(rule_set), traits_of(molds)
    narrower = narrower_sets().get(rule_set.pk, [])
    taken = {row.mold_id: row for row in TakenSet.objects.filter(rule_set=rule_set)}
    rows = []
    for mold in molds:
        fit, taking = fit_of(meant, traits=traits[mold.pk]), taken.get(mold.pk)
        instead = [row.name for row in fitting(narrower, traits=traits[mold.pk])]
        if not took and taking is None and (fit is Fit.DOES_NOT or instead):
            continue
        is_behind = taking is not None and taking.revision < rule_set.revision
        rows.append(
            MoldChoice(
                mold=mold,
                fit=fit,
                say=_said(fit, taking=taking, is_behind=is_behind, instead=instead),
                is_ticked=mold.pk in ticked or (took == BEHIND and is_behind),
                is_up_to_date=taking is not None and not is_behind,
            )
        )
    # a mold that has the whole set comes after those that something would be written for
    rows.sort(key=lambda row: row.is_up_to_date)
    named = {name: ask.wanted(name) for name in ask.fields if ask.wanted(name)}
    return Choices(
        rows=rows[:MOST_MOLDS],
        further=max(0, len(rows) - MOST_MOLDS),
        asked=list(named.items()),
        is_narrowed=bool(named),
    )


def _molds(rule_set: RuleSet, *, ask: WhichMolds, took: str) -> QuerySet[Mold]:
    molds = molds_in_use()
    for name in ("mold_class", "resin_group"):
        if ask.wanted(name):
            molds = molds.filter(**{name: ask.wanted(name)})
    if ask.wanted("owner"):
        molds = molds.filter(owner=int(ask.wanted("owner")))
    takings = TakenSet.objects.filter(rule_set=rule_set, mold=OuterRef("pk"))
    if took == BEHIND:
        molds = molds.filter(Exists(takings.filter(revision__lt=rule_set.revision)))
    if took == NOT_TAKEN:
        molds = molds.filter(~Exists(takings))
    return molds


def _said(fit: Fit, *, taking: TakenSet | None, is_behind: bool, instead: list[str]) -> str:
    if is_behind:
        return _("took it before its last change")
    if taking is not None:
        return _("has taken it")
    if instead:
        return in_place_words(instead)
    return {
        Fit.FITS: _("fits"),
        Fit.ASK: _("only you know whether it fits"),
        Fit.DOES_NOT: _("the set is not meant for it"),
    }[fit]
