"""Which rule, when it is done, restarts which others."""

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.subjects import chain_of, lock_rule, named
from moldcare.care.models import CareRule, Cover
from moldcare.core.due import check_covers
from moldcare.core.errors import CoversInCircle
from moldcare.logbook.append import append_entry


def add_cover(doing: Doing, *, covering: CareRule, covered: CareRule) -> Written:
    """Let a finished rule restart another of the same mold.

    Raises
    ------
    CoversInCircle
        If a rule would restart itself, directly or through others.
    DoesNotFit
        If the two belong to different molds, or it does so already.
    """
    return _change(doing, covering=covering, covered=covered, is_added=True)


def remove_cover(doing: Doing, *, covering: CareRule, covered: CareRule) -> Written:
    """Let a finished rule restart another no more.

    Raises
    ------
    DoesNotFit
        If it does not restart it anyway.
    """
    return _change(doing, covering=covering, covered=covered, is_added=False)


def _change(doing: Doing, *, covering: CareRule, covered: CareRule, is_added: bool) -> Written:
    require(doing.person, Right.EDIT_RULES)

    def do() -> dict[str, Any]:
        held, subject = lock_rule(covering)
        there = set(Cover.objects.filter(covering=held).values_list("covered_id", flat=True))
        if is_added == (covered.pk in there):
            raise DoesNotFit(
                _("“%(first)s” covers “%(second)s” already.")
                % {"first": held.name, "second": covered.name}
                if is_added
                else _("“%(first)s” does not cover “%(second)s”.")
                % {"first": held.name, "second": covered.name}
            )
        wanted = there | {covered.pk} if is_added else there - {covered.pk}
        put_covers(held, wanted)
        verb = "covers" if is_added else "covers no more"
        entry = append_entry(
            chain_of(subject),
            kind="cover_added" if is_added else "cover_removed",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"Care rule “{held.name}” {verb} “{covered.name}”.",
            facts={
                **named(subject),
                "rule": held.pk,
                "name": held.name,
                "covered": covered.pk,
                "covered_name": covered.name,
            },
        )
        return answer_of(held, entry=entry)

    act = "add_cover" if is_added else "remove_cover"
    return Written.read(once(doing, act, {"covering": covering, "covered": covered}, do))


def put_covers(rule: CareRule, wanted: Iterable[int]) -> tuple[list[str], list[str]]:
    """Let a rule cover exactly the wanted ones; return the names before and after.

    Call it under the lock of what the rule is of: two people could close a circle together.
    """
    others = {
        row.pk: row
        for row in CareRule.objects.filter(
            mold=rule.mold_id, auxiliary=rule.auxiliary_id, withdrawn_at__isnull=True
        )
    }
    keys = set(wanted)
    strangers = keys - set(others)
    if strangers:
        raise DoesNotFit(_("A rule covers rules of the same mold only. Open the page again."))
    edges: dict[int, set[int]] = {pk: set() for pk in others}
    for covering_id, covered_id in Cover.objects.filter(
        covering__in=others, covered__in=others
    ).values_list("covering_id", "covered_id"):
        edges[covering_id].add(covered_id)
    before = edges.get(rule.pk, set())
    edges[rule.pk] = keys
    _refuse_circle(edges, names={pk: row.name for pk, row in others.items()})
    Cover.objects.filter(covering=rule, covered__in=before - keys).delete()
    Cover.objects.bulk_create(Cover(covering=rule, covered_id=pk) for pk in sorted(keys - before))
    return _names(before, others), _names(keys, others)


def _names(keys: Iterable[int], rules: dict[int, CareRule]) -> list[str]:
    return sorted(rules[pk].name for pk in keys if pk in rules)


def _refuse_circle(edges: dict[int, set[int]], *, names: dict[int, str]) -> None:
    """Raise CoversInCircle with the names of the rules, not their keys."""
    by_name = {pk: f"{name} ({pk})" for pk, name in names.items()}
    once_each = {name for name in names.values() if list(names.values()).count(name) == 1}
    said = {pk: names[pk] if names[pk] in once_each else by_name[pk] for pk in names}
    check_covers({said[pk]: [said[other] for other in found] for pk, found in edges.items()})


__all__ = ["CoversInCircle", "add_cover", "put_covers", "remove_cover"]
