"""How an interval comes about: its base, its factors with their reasons, and the result."""

from dataclasses import dataclass
from decimal import Decimal
from math import prod

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from moldcare.care.convert import rule_terms
from moldcare.care.models import RuleTermsModel
from moldcare.care.starting_rules import FILLER_FACTORS, RESIN_FACTORS
from moldcare.core.due import interval_count, interval_h
from moldcare.core.due.terms import LEAST_PART
from moldcare.molds.models import Filler, Mold, ResinGroup
from moldcare.pages.words import basis_words, count_words


@dataclass(frozen=True, kw_only=True, slots=True)
class IntervalFactor:
    """One factor and why it is there."""

    value: Decimal
    reason: str

    @property
    def said(self) -> str:
        """The factor as it stands in the sum: 0.6 (POM, gassy)."""
        value = number_format(self.value.normalize(), use_l10n=True)
        return f"{value} ({self.reason})" if self.reason else value


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """Base times factors is the result; `is_least` where the product was raised to 0.3."""

    base: float
    factors: tuple[IntervalFactor, ...]
    result: float
    unit: str
    is_least: bool

    @property
    def parts(self) -> str:
        """The left side of the sum, empty where nothing acts on the base."""
        if not self.factors:
            return ""
        said = " × ".join([count_words(self.base), *(factor.said for factor in self.factors)])
        if not self.is_least:
            return said
        least = number_format(LEAST_PART, use_l10n=True)
        return _("%(sum)s, but not below %(least)s of the base") % {"sum": said, "least": least}

    @property
    def said(self) -> str:
        """The result in words: 7,200 shots."""
        return f"{count_words(self.result)} {self.unit}"

    @property
    def sum(self) -> str:
        """The whole sum: 20,000 × 0.6 (POM, gassy) × 0.6 (glass) = 7,200 shots."""
        return f"{self.parts} = {self.said}" if self.factors else ""


def intervals_of(row: RuleTermsModel, *, mold: Mold | None = None) -> list[Interval]:
    """Return the intervals of a rule by count and by running hours, as far as it has them."""
    terms = rule_terms(row)
    factors = tuple(
        IntervalFactor(value=Decimal(value), reason=reason)
        for value, reason in (
            (row.factor_resin, _resin_words(row, mold=mold)),
            (row.factor_filler, _filler_words(row, mold=mold)),
            (row.factor_finish, _finish_words(mold)),
        )
        if value != 1
    )
    is_least = prod(factor.value for factor in terms.factors) < LEAST_PART
    found = []
    if terms.count is not None:
        found.append(
            Interval(
                base=terms.count.n,
                factors=factors,
                result=interval_count(terms.count, factors=terms.factors),
                unit=basis_words(terms.count.basis),
                is_least=is_least,
            )
        )
    if terms.running is not None:
        found.append(
            Interval(
                base=terms.running.hours,
                factors=factors,
                result=interval_h(terms.running, factors=terms.factors),
                unit=_("running hours"),
                is_least=is_least,
            )
        )
    return found


def _resin_words(row: RuleTermsModel, *, mold: Mold | None) -> str:
    """Return why the resin shortens it; a factor that is not the group's says only that."""
    if mold is None or RESIN_FACTORS[mold.resin_group] != row.factor_resin:
        return _("resin")
    group = {
        ResinGroup.GASSY: _("gassy"),
        ResinGroup.CORROSIVE: _("gives off acid"),
    }.get(ResinGroup(mold.resin_group), "")
    if not mold.resin:
        return str(ResinGroup(mold.resin_group).label)
    return f"{mold.resin}, {group}" if group else mold.resin


def _filler_words(row: RuleTermsModel, *, mold: Mold | None) -> str:
    if mold is None or FILLER_FACTORS[mold.filler] != row.factor_filler:
        return _("filler")
    return str(Filler(mold.filler).label)


def _finish_words(mold: Mold | None) -> str:
    if mold is None or not mold.finish:
        return _("finish")
    return _("finish %(finish)s") % {"finish": mold.finish}
