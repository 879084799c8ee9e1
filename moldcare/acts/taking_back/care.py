"""Taking back what a maintenance sheet brought: rules, intervals, when each was last done."""

from collections.abc import Mapping, Sequence

from moldcare.acts.moving_in import LAST_DONE, RULE_ADDED, RULE_CHANGED, Brought
from moldcare.acts.rules.writing import save_changed
from moldcare.acts.taking_back.values import Work
from moldcare.acts.words import sentence_end
from moldcare.bulk import insert, parts
from moldcare.care.models import CareRule, TakenBack
from moldcare.logbook.append import EntryDraft
from moldcare.logbook.models import Entry
from moldcare.logbook.queries import TAKEN_BACK_ENTRY
from moldcare.molds.models import Mold

RULES_AT_ONCE = 5_000


def put_rules_back(
    free: Sequence[Brought],
    *,
    molds: Mapping[int, Mold],
    rules: Mapping[int, CareRule],
    work: Work,
) -> int:
    """Put back the intervals that a sheet changed; return how many."""
    changed = [each for each in free if each.act == RULE_CHANGED]
    for each in changed:
        before = dict(each.before)
        was_adjusted = bool(before.pop("is_adjusted"))
        rule = rules[each.rule or 0]
        version = save_changed(
            work.doing,
            rule,
            subject=molds[each.mold or 0],
            changes=before,
            reason=f"{work.said}. {work.reason}"[:400],
            steps=None,
            covers=None,
            is_adjusted=was_adjusted,
        )
        if version is not None:
            work.entries.append(version.entry_id)
        if not was_adjusted:
            # it follows its set again, as it did before the sheet
            rule.is_adjusted = False
            rule.save(update_fields=["is_adjusted"])
    return len(changed)


def take_care_back(
    free: Sequence[Brought],
    *,
    molds: Mapping[int, Mold],
    rules: Mapping[int, CareRule],
    work: Work,
) -> dict[str, int]:
    """Withdraw rules and take completions back, with one entry a mold."""
    care = [each for each in free if each.act in {RULE_ADDED, RULE_CHANGED, LAST_DONE}]
    of_mold: dict[int, list[Brought]] = {}
    for each in care:
        if each.act == RULE_ADDED or each.completion is not None:
            of_mold.setdefault(each.mold or 0, []).append(each)
    withdrawn = {each.rule for each in care if each.act == RULE_ADDED and each.rule is not None}
    for some in parts(withdrawn, size=RULES_AT_ONCE):
        CareRule.objects.filter(pk__in=some).update(withdrawn_at=work.doing.now)
    order = sorted(of_mold)
    wrong = Entry.objects.in_bulk({of_mold[mold][0].entry for mold in order})
    entries = work.append(
        [
            EntryDraft(
                chain=molds[mold].chain_id,
                kind=TAKEN_BACK_ENTRY,
                sentence=(
                    f"{work.said}: "
                    + "; ".join(_care_words(each, rules=rules) for each in of_mold[mold])
                    + f". Reason: {sentence_end(work.reason)}"
                ),
                facts={
                    "mold": molds[mold].number,
                    "corrects": wrong[of_mold[mold][0].entry].number,
                    "rules": [each.rule for each in of_mold[mold]],
                    **work.facts,
                },
                corrects=wrong[of_mold[mold][0].entry],
            )
            for mold in order
        ]
    )
    of_entry = dict(zip(order, entries, strict=True))
    back = [
        TakenBack(
            completion_id=each.completion,
            reason=work.reason[:200],
            person=work.doing.person,
            entry_id=of_entry[each.mold or 0],
            written_at=work.doing.now,
        )
        for each in care
        if each.completion is not None
    ]
    insert(back)
    return {"rules_withdrawn": len(withdrawn), "completions_taken_back": len(back)}


def _care_words(each: Brought, *, rules: Mapping[int, CareRule]) -> str:
    rule = rules[each.rule or 0]
    what = "withdrawn" if each.act == RULE_ADDED else "its last time taken back"
    return f"“{rule.name}” {what}"
