"""Correcting what is in the logbook: a further entry says what was wrong; both stay."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts import refresh
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, NotAllowed
from moldcare.acts.rights import Right, may, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.care.models import Completion, TakenBack
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Chain, Entry
from moldcare.logbook.queries import CORRECTION_ENTRY, TAKEN_BACK_ENTRY, correction_of
from moldcare.plant.queries import the_calendar, the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class Corrected:
    """The entry that corrects."""

    entry_pk: int
    entry_number: int


def correct_entry(
    doing: Doing,
    *,
    entry: Entry,
    reason: str,
    sentence: str = "",
    facts: Mapping[str, Any] | None = None,
) -> Corrected:
    """Correct an entry by a further one in its chain, which holds the whole corrected content.

    What was done stays as the facts have it: a completion that was wrong is taken back with
    `take_back_completion`, a reading by a decision.

    Parameters
    ----------
    sentence : str
        The entry in words as it should read; empty leaves its words.
    facts : mapping, optional
        Those of its facts that change, with their right values.

    Raises
    ------
    NotAllowed
        Unless the person wrote the entry in the shift that is running, or is a lead.
    DoesNotFit
        If it was corrected already, or nothing would change.
    """
    check_may_correct(doing, entry=entry)
    why = reason_given(reason)
    said = tidy(sentence)
    body = {
        "entry": entry.pk,
        "reason": reason,
        "sentence": sentence,
        "facts": json.dumps(facts or {}, sort_keys=True, default=str),
    }

    def do() -> dict[str, Any]:
        # before it looks, so that two corrections of one entry cannot both find none
        Chain.objects.select_for_update(no_key=True).get(pk=entry.chain_id)
        earlier = correction_of(entry)
        if earlier is not None:
            raise DoesNotFit(
                _("Entry %(number)d is corrected by entry %(by)d. Correct that one.")
                % {"number": entry.number, "by": earlier.number}
            )
        before = _facts_before(entry)
        after = {**before, **(facts or {})}
        words = said or _words_before(entry)
        if after == before and words == _words_before(entry):
            raise DoesNotFit(_("Nothing would change. Write what is right."))
        row = append_entry(
            entry.chain,
            kind=CORRECTION_ENTRY,
            happened_at=entry.happened_at,
            written_at=doing.now,
            author=doing.person,
            sentence=(
                f"Corrects entry {entry.number}: {sentence_end(words)} Reason: {sentence_end(why)}"
            ),
            facts={
                "corrects": entry.number,
                "corrected_kind": _kind_before(entry),
                "reason": why,
                "sentence": words,
                "changed": sorted(
                    name for name in after if name not in before or before[name] != after[name]
                ),
                "facts": after,
            },
            corrects=entry,
        )
        return {"entry_pk": row.pk, "entry_number": row.number}

    return Corrected(**once(doing, "correct_entry", body, do))


def take_back_completion(doing: Doing, *, completion: Completion, reason: str) -> Corrected:
    """Take a completion back: it was not done after all. What it covered is taken back with it.

    Raises
    ------
    NotAllowed
        Unless the person wrote its entry in the shift that is running, or is a lead.
    DoesNotFit
        If it was taken back already.
    """
    check_may_correct(doing, entry=completion.entry)
    why = reason_given(reason)

    def do() -> dict[str, Any]:
        Chain.objects.select_for_update(no_key=True).get(pk=completion.entry.chain_id)
        if TakenBack.objects.filter(completion=completion).exists():
            raise DoesNotFit(_("This was taken back already."))
        under = Completion.objects.filter(covering=completion, taken_back__isnull=True)
        rows = [completion, *under.select_related("rule").order_by("id")]
        names = ", ".join(row.rule.name for row in rows)
        entry = append_entry(
            completion.entry.chain,
            kind=TAKEN_BACK_ENTRY,
            happened_at=completion.entry.happened_at,
            written_at=doing.now,
            author=doing.person,
            sentence=(
                f"Taken back, of entry {completion.entry.number}: {names}. "
                f"Reason: {sentence_end(why)}"
            ),
            facts={
                "corrects": completion.entry.number,
                "reason": why,
                "rules": [row.rule_id for row in rows],
            },
            corrects=completion.entry,
        )
        TakenBack.objects.bulk_create(
            TakenBack(
                completion=row,
                reason=why,
                person=doing.person,
                entry=entry,
                written_at=doing.now,
            )
            for row in rows
        )
        if completion.rule.mold_id is not None:
            refresh.refresh_care(molds=[completion.rule.mold_id])
        elif completion.rule.auxiliary_id is not None:
            refresh.refresh_care(auxiliaries=[completion.rule.auxiliary_id])
        return {"entry_pk": entry.pk, "entry_number": entry.number}

    body = {"completion": completion.pk, "reason": reason}
    return Corrected(**once(doing, "take_back_completion", body, do))


def check_may_correct(doing: Doing, *, entry: Entry) -> None:
    """Raise NotAllowed unless the person may correct the entry: leads any, others their own.

    One's own is corrected within the shift in which it was written.
    """
    if may(doing.person, Right.CORRECT_ANY_ENTRY):
        return
    require(doing.person, Right.CORRECT_OWN_ENTRY)
    if entry.author_id != doing.person.pk:
        raise NotAllowed(
            _("%(name)s wrote this entry. Ask a lead to correct it.") % {"name": entry.author_name}
        )
    calendar = the_calendar(the_plant())
    shift = calendar.shift_at(entry.written_at)
    if shift is None or not shift.starts_at <= doing.now < shift.ends_at:
        raise NotAllowed(
            _("This entry was not written in the shift that is running. Ask a lead to correct it.")
        )


def _facts_before(entry: Entry) -> dict[str, Any]:
    facts: dict[str, Any] = json.loads(entry.facts)
    if entry.kind == CORRECTION_ENTRY:
        facts = facts["facts"]
    return facts


def _words_before(entry: Entry) -> str:
    if entry.kind == CORRECTION_ENTRY:
        return str(json.loads(entry.facts)["sentence"])
    return entry.sentence


def _kind_before(entry: Entry) -> str:
    if entry.kind == CORRECTION_ENTRY:
        return str(json.loads(entry.facts)["corrected_kind"])
    return entry.kind
