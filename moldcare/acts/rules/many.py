"""Writing the new rules of a set on molds, many at once, each with its entry and first version."""

from collections.abc import Sequence
from typing import Any

from moldcare.acts.doing import Doing
from moldcare.acts.rules.kept import all_terms, written_facts, written_sentence
from moldcare.acts.rules.set_plan import RuleOnMold, SetOnMold
from moldcare.acts.rules.steps import NewStep, step_facts, step_rows
from moldcare.acts.rules.words import terms_words
from moldcare.acts.rules.writing import check_fields
from moldcare.care.models import CareRule, RuleVersion, Step
from moldcare.logbook.append import EntryDraft, append_entries
from moldcare.molds.models import Mold

# what rules of one row of a set differ in from mold to mold
Alike = tuple[int, Any, Any]


def save_new_copies(doing: Doing, planned: Sequence[tuple[SetOnMold, RuleOnMold]]) -> None:
    """Save the new rules that were planned for locked molds, without what they cover.

    Rules that are alike on several molds are checked once.
    """
    if not planned:
        return
    checked: dict[Alike, list[NewStep]] = {}
    for _plan, each in planned:
        alike = each.row.pk, each.wanted.factor_resin, each.wanted.factor_filler
        if alike not in checked:
            check_fields(each.wanted)
            step_rows(each.steps, rule=None)
            checked[alike] = each.steps
    rules = [each.wanted for _plan, each in planned]
    CareRule.objects.bulk_create(rules)
    Step.objects.bulk_create(
        row
        for _plan, each in planned
        for row in step_rows(each.steps, rule=each.wanted, is_checked=True)
    )
    entries = append_entries(
        [_draft(each.wanted, mold=plan.mold, steps=each.steps) for plan, each in planned],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    RuleVersion.objects.bulk_create(
        RuleVersion(
            rule=each.wanted,
            terms=all_terms(each.wanted, steps=each.steps, covers=[]),
            reason=each.wanted.reason,
            person=doing.person,
            entry_id=entry,
            written_at=doing.now,
        )
        for (_plan, each), entry in zip(planned, entries, strict=True)
    )


def _draft(rule: CareRule, *, mold: Mold, steps: Sequence[NewStep]) -> EntryDraft:
    return EntryDraft(
        chain=mold.chain_id,
        kind="rule_written",
        sentence=written_sentence(rule, asks=terms_words(rule)),
        facts=written_facts(rule, subject=mold, steps=step_facts(steps), covers=[]),
    )
