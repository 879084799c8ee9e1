"""What the page of one rule set shows."""

from dataclasses import dataclass

from moldcare.acts.rules import changes_of, values_on
from moldcare.care.models import CareRule, RuleSet, SetRule
from moldcare.care.set_queries import rules_of
from moldcare.care.starting_rules import STARTING_REASON
from moldcare.logbook.models import Entry
from moldcare.molds.models import Filler, Mold, ResinGroup
from moldcare.pages.rule_sets.words import meant_words
from moldcare.pages.rules.intervals import intervals_of
from moldcare.pages.rules.rule import limit_lines
from moldcare.paper.cautions import cautions_for

CHANGES_SHOWN = 12


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownRule:
    """A rule of a set, with what it comes to on molds of each resin and filler."""

    row: SetRule
    limits: list[tuple[str, str]]
    shortened: list[str]
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


def _shortened(row: SetRule) -> list[str]:
    """Return base times factor and its reason, for each resin group and filler that shortens it."""
    like = [Mold(resin_group=group, filler=Filler.NONE) for group in ResinGroup if row.by_resin]
    like += [Mold(resin_group=ResinGroup.MILD, filler=each) for each in Filler if row.by_filler]
    as_the_set = [each.sum for each in intervals_of(row)]
    return [
        each.sum
        for mold in like
        for each in intervals_of(CareRule(**values_on(row, mold=mold)), mold=mold)
        if each.factors and each.sum not in as_the_set
    ]
