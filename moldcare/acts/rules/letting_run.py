"""Deferring a rule: a named person lets a mold run on, why, and up to which new limit."""

from dataclasses import dataclass
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
from moldcare.care.models import CareRule, Deferral, Standing
from moldcare.logbook.append import append_entry
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleDeferred(Written):
    """A rule was deferred; `made_count` is the count at which that was decided."""

    made_count: int


def defer_rule(
    doing: Doing,
    *,
    rule: CareRule,
    reason: str,
    until_count: int | None = None,
    until_on: date | None = None,
) -> RuleDeferred:
    """Let a rule run past due up to a new limit: a count of its own basis, a date, or both.

    From the new limit on the rule is past its limit. The work ends the deferral.

    Raises
    ------
    DoesNotFit
        If a new limit is reached already, or is by count where the rule does not count.
    Incomplete
        If there is neither limit nor reason.
    """
    require(doing.person, Right.DEFER)

    def do() -> dict[str, Any]:
        held, subject = lock_rule(rule)
        words = reason_given(reason)
        count = _count_now(held)
        _check_limits(held, doing=doing, count=count, until_count=until_count, until_on=until_on)
        row = Deferral(
            rule=held,
            made_at=doing.now,
            made_count=count or 0,
            until_count=until_count,
            until_on=until_on,
            reason=words,
            person=doing.person,
            written_at=doing.now,
        )
        checked(row, exclude=("rule", "person", "entry", "until_count", "until_on"))
        until = []
        if until_count is not None:
            until.append(f"a count of {until_count:,} {held.count_basis} (now {count or 0:,})")
        if until_on is not None:
            until.append(f"{until_on}")
        row.entry = append_entry(
            chain_of(subject),
            kind="deferral",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=(
                f"Care rule “{held.name}” deferred by {doing.person.name} until "
                f"{' or '.join(until)}. Reason: {sentence_end(words)}"
            ),
            facts={
                **named(subject),
                "rule": held.pk,
                "name": held.name,
                "made_count": count,
                "basis": held.count_basis,
                "until_count": until_count,
                "until_on": str(until_on) if until_on else None,
                "reason": words,
            },
        )
        row.save()
        refresh(subject)
        return answer_of(row, entry=row.entry, made_count=row.made_count)

    body = {"rule": rule, "reason": reason, "until_count": until_count, "until_on": until_on}
    return RuleDeferred.read(once(doing, "defer_rule", body, do))


def _count_now(rule: CareRule) -> int | None:
    return Standing.objects.filter(pk=rule.pk).values_list("count", flat=True).first()


def _check_limits(
    rule: CareRule,
    *,
    doing: Doing,
    count: int | None,
    until_count: int | None,
    until_on: date | None,
) -> None:
    if until_count is None and until_on is None:
        raise Incomplete(_("Give the new limit: a count, a date, or both."))
    if until_count is not None and (rule.count_base is None or count is None):
        raise DoesNotFit(_("This rule does not go by a count that is known. Give a date."))
    if until_count is not None and count is not None and until_count <= count:
        raise DoesNotFit(
            _("The count is %(count)s already. Give a new limit above it.") % {"count": count}
        )
    today = doing.now.astimezone(ZoneInfo(the_plant().zone)).date()
    if until_on is not None and until_on <= today:
        raise DoesNotFit(_("The new limit has to lie after today."))
