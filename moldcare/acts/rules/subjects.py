"""What a rule is of, a mold or an auxiliary: locked, and with its chain."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_care
from moldcare.care.models import CareRule
from moldcare.logbook.models import Chain
from moldcare.molds.models import Auxiliary, Mold


def lock_subject(subject: Mold | Auxiliary) -> Mold | Auxiliary:
    """Lock what a rule is of; raise NotFound when it was withdrawn."""
    if isinstance(subject, Mold):
        return lock_mold(subject)
    held = Auxiliary.objects.select_for_update(no_key=True).filter(pk=subject.pk).first()
    if held is None or held.withdrawn_at is not None:
        raise NotFound(
            _("Auxiliary %(number)s was withdrawn; nothing was written.")
            % {"number": subject.number}
        )
    return held


def lock_molds(keys: Iterable[int]) -> list[Mold]:
    """Lock molds in the order of their keys; raise NotFound when one was withdrawn."""
    rows = Mold.objects.select_related("chain").select_for_update(of=("self",), no_key=True)
    wanted = sorted(set(keys))
    held = list(rows.filter(pk__in=wanted).order_by("pk"))
    if len(held) < len(wanted):
        raise NotFound(_("A mold of these is not there any more. Open the page again."))
    for mold in held:
        if mold.withdrawn_at is not None:
            raise NotFound(
                _("Mold %(mold)s was withdrawn; nothing was written. Open the page again.")
                % {"mold": mold.number}
            )
    return held


def subject_of(rule: CareRule) -> Mold | Auxiliary:
    """Return what a rule is of."""
    subject = rule.mold or rule.auxiliary
    if subject is None:
        raise DoesNotFit(_("This rule belongs to nothing. Withdraw it."))
    return subject


def lock_rule(rule: CareRule) -> tuple[CareRule, Mold | Auxiliary]:
    """Lock what a rule is of and return the rule as it is now.

    Raises
    ------
    NotFound
        If the rule, or what it is of, was withdrawn.
    """
    subject = lock_subject(subject_of(rule))
    held = CareRule.objects.select_related("family").get(pk=rule.pk)
    if held.withdrawn_at is not None:
        raise NotFound(_("This rule was withdrawn meanwhile; nothing was written."))
    return held, subject


def chain_of(subject: Mold | Auxiliary) -> Chain:
    """Return the chain that entries about a subject's rules are written in."""
    return subject.chain


def refresh(subject: Mold | Auxiliary) -> None:
    """Derive the subject's standings again."""
    if isinstance(subject, Mold):
        refresh_care(molds=[subject.pk])
    else:
        refresh_care(auxiliaries=[subject.pk])


def named(subject: Mold | Auxiliary) -> dict[str, str]:
    """Return the subject as it stands in the facts of an entry."""
    kind = "mold" if isinstance(subject, Mold) else "auxiliary"
    return {kind: subject.number}
