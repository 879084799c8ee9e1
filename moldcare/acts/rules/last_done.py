"""Saying when a rule was last done before our records: a date, a count, or both."""

from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.subjects import chain_of, lock_rule, named, refresh
from moldcare.acts.words import reason_given, sentence_end
from moldcare.care.models import CareRule, Completion, Standing
from moldcare.care.queries import last_completions
from moldcare.logbook.append import append_entry
from moldcare.plant.queries import the_plant


def declare_last_done(
    doing: Doing,
    *,
    rule: CareRule,
    done_on: date | None = None,
    done_count: int | None = None,
    source: str,
) -> Written:
    """Say when, or at which count, a rule was last done by older records; `source` says whose.

    Counting goes on from there. Work that is in our own logbook stays the last work: it is newer.

    Raises
    ------
    DoesNotFit
        If the date is in the future, the count above what was counted, or work is known already.
    Incomplete
        If neither is given, or it is not said on whose word.
    """
    require(doing.person, Right.EDIT_RULES)

    def do() -> dict[str, Any]:
        held, subject = lock_rule(rule)
        words = reason_given(source)
        _check(held, doing=doing, done_on=done_on, done_count=done_count)
        said = []
        if done_on is not None:
            said.append(f"on {done_on}")
        if done_count is not None:
            said.append(f"at a count of {done_count:,} {held.count_basis}")
        entry = append_entry(
            chain_of(subject),
            kind="last_done",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=(
                f"Care rule “{held.name}” was last done {' '.join(said)}, by older records: "
                f"{sentence_end(words)}"
            ),
            facts={
                **named(subject),
                "rule": held.pk,
                "name": held.name,
                "done_on": str(done_on) if done_on else None,
                "done_count": done_count,
                "source": words,
            },
        )
        row = Completion(
            rule=held,
            declared_on=done_on,
            declared_count=done_count,
            person=doing.person,
            entry=entry,
            written_at=doing.now,
        )
        checked(
            row,
            exclude=tuple(
                name for name in _UNCHECKED if name != "declared_count" or done_count is None
            ),
        )
        row.save()
        refresh(subject)
        return answer_of(row, entry=entry)

    body = {"rule": rule, "done_on": done_on, "done_count": done_count, "source": source}
    return Written.read(once(doing, "declare_last_done", body, do))


_UNCHECKED = (
    "rule",
    "happened_at",
    "declared_on",
    "declared_count",
    "covering",
    "component_id",
    "minutes",
    "order_number",
    "person",
    "entry",
)


def _check(rule: CareRule, *, doing: Doing, done_on: date | None, done_count: int | None) -> None:
    if done_on is None and done_count is None:
        raise Incomplete(_("Say when it was last done: a date, a count, or both."))
    today = doing.now.astimezone(ZoneInfo(the_plant().zone)).date()
    if done_on is not None and done_on > today:
        raise DoesNotFit(_("The date is in the future. Check the year."))
    count = Standing.objects.filter(pk=rule.pk).values_list("count", flat=True).first()
    if done_count is not None and rule.count_base is None:
        raise DoesNotFit(_("This rule does not count. Give a date."))
    if done_count is not None and count is not None and done_count > count:
        raise DoesNotFit(
            _("The count is only %(count)s now; it cannot have been %(done)s then.")
            % {"count": count, "done": done_count}
        )
    known = last_completions([rule]).get(rule.pk)
    if known is not None and known.happened_at is not None:
        raise DoesNotFit(
            _("This rule was done since, by our own logbook: older records change nothing now.")
        )
