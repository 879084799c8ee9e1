"""What the page of one rule set shows."""

from dataclasses import dataclass
from decimal import Decimal

from moldcare.acts.rules import changes_of
from moldcare.care.convert import rule_terms
from moldcare.care.models import RuleSet, SetRule
from moldcare.care.set_queries import rules_of
from moldcare.care.starting_rules import FILLER_FACTORS, RESIN_FACTORS, STARTING_REASON
from moldcare.core.due import Factor, interval_count
from moldcare.logbook.models import Entry
from moldcare.molds.models import Filler, ResinGroup
from moldcare.pages.rule_sets.words import meant_words
from moldcare.pages.rules.rule import limit_lines
from moldcare.pages.words import basis_words, count_words
from moldcare.paper.cautions import cautions_for

CHANGES_SHOWN = 12


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownRule:
    """A rule of a set, with what it comes to on molds of each resin and filler."""

    row: SetRule
    limits: list[tuple[str, str]]
    shortened: list[tuple[str, str]]
    cautions: list[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetPage:
    """Everything that the page of a set shows."""

    rules: list[ShownRule]
    meant: list[str]
    to_check: int
    changes: list[Entry]


def set_page(rule_set: RuleSet) -> SetPage:
    """Read the page of a set."""
    rows = rules_of(rule_set)
    return SetPage(
        rules=[_shown(row) for row in rows],
        to_check=sum(row.reason.startswith(STARTING_REASON) for row in rows),
        meant=meant_words(rule_set),
        changes=changes_of(rule_set, most=CHANGES_SHOWN),
    )


def _shown(row: SetRule) -> ShownRule:
    return ShownRule(
        row=row,
        limits=limit_lines(row),
        shortened=_shortened(row),
        cautions=[str(caution.heading).rstrip(".") for caution in cautions_for([row.family.key])],
    )


def _shortened(row: SetRule) -> list[tuple[str, str]]:
    """Return base times factor and its reason, for each resin group and filler that shortens it."""
    terms = rule_terms(row)
    if terms.count is None:
        return []
    limit, basis = terms.count, basis_words(terms.count.basis)

    def line(factor: Decimal, label: str) -> tuple[str, str]:
        factors = (*terms.factors, Factor(value=factor, reason=label))
        result = count_words(interval_count(limit, factors=factors))
        own = "".join(f" × {each.value.normalize()}" for each in terms.factors)
        return (
            label,
            f"{count_words(limit.n)}{own} × {factor.normalize()} = {result} {basis}",
        )

    found = []
    if row.by_resin and row.factor_resin == 1:
        found += [
            line(factor, str(ResinGroup(group).label))
            for group, factor in RESIN_FACTORS.items()
            if factor != 1
        ]
    if row.by_filler and row.factor_filler == 1:
        found += [
            line(factor, str(Filler(filler).label))
            for filler, factor in FILLER_FACTORS.items()
            if factor != 1
        ]
    return found
