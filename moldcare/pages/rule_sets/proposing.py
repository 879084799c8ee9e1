"""Which sets a mold may take: those that changed since it took them, those that fit, the others."""

from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.rules import Becomes, plan_set
from moldcare.care.meant_for import Fit, MoldTraits, fit_of
from moldcare.care.models import RuleSet, TakenSet
from moldcare.care.set_queries import fitting, meant_for, narrower_sets, sets_in_use
from moldcare.molds.models import Mold
from moldcare.pages.rule_sets.words import meant_words

_ORDER = (Fit.FITS, Fit.ASK, Fit.DOES_NOT)


@dataclass(frozen=True, kw_only=True, slots=True)
class SetChoice:
    """A set that a mold may take; `narrower` are sets that fit and stand in its place.

    `otherwise` are rules of a set that the mold took and of which it asks otherwise by now: the
    set changed, or the mold did, its resin or filler.
    """

    rule_set: RuleSet
    size: int
    fit: Fit
    meant: list[str]
    narrower: list[str]
    is_taken: bool = False
    is_behind: bool = False
    otherwise: list[str] = field(default_factory=list)

    @property
    def is_proposed(self) -> bool:
        """Whether taking it is the first thing to look at."""
        if self.is_taken:
            return self.is_behind or bool(self.otherwise)
        return self.fit is Fit.FITS and not self.narrower

    @property
    def said(self) -> str:
        """Whether it fits, in a few words."""
        if self.fit is Fit.FITS and self.narrower:
            return in_place_words(self.narrower)
        return {
            Fit.FITS: _("fits"),
            Fit.ASK: _("only you know whether it fits"),
            Fit.DOES_NOT: _("not meant for such a mold"),
        }[self.fit]


def in_place_words(narrower: list[str]) -> str:
    """Say which sets are meant in the place of a wider one."""
    names = ", ".join(f"“{name}”" for name in narrower)
    return ngettext(
        "%(names)s stands in its place", "%(names)s stand in its place", len(narrower)
    ) % {"names": names}


def set_choices(traits: MoldTraits, *, mold: Mold | None = None) -> list[SetChoice]:
    """Return all sets in use for a mold; `mold` is None where it is not there yet."""
    rows: list[Any] = list(sets_in_use())
    takings = TakenSet.objects.filter(mold=mold) if mold is not None else ()
    taken, narrower = {row.rule_set_id: row for row in takings}, narrower_sets()
    found = []
    for row in rows:
        taking = taken.get(row.pk)
        found.append(
            SetChoice(
                rule_set=row,
                size=row.size,
                fit=fit_of(meant_for(row), traits=traits),
                meant=meant_words(row),
                narrower=[each.name for each in fitting(narrower.get(row.pk, ()), traits=traits)],
                is_taken=taking is not None,
                is_behind=taking is not None and taking.revision < row.revision,
                otherwise=[] if taking is None or mold is None else _otherwise(row, mold=mold),
            )
        )
    return sorted(
        found,
        key=lambda each: (not each.is_behind, not each.is_proposed, _ORDER.index(each.fit)),
    )


def _otherwise(rule_set: RuleSet, *, mold: Mold) -> list[str]:
    (plan,) = plan_set(rule_set, molds=[mold], at=timezone.now())
    return [each.row.name for each in plan.of(Becomes.CHANGED)]
