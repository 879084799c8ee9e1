"""Locks on what acts read and then write.

All acts take them in one order, or two of them would wait for each other: molds or an auxiliary,
then spots, then other records, counters, chains, lives, and what a feed keeps of its own. Rows are
locked against change only: whoever writes a fact that refers to one does not wait.
"""

from collections.abc import Iterable

from django.db import IntegrityError, models, transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.counters.models import CounterFitting
from moldcare.counters.queries import lock_counters, newest_reading_number
from moldcare.logbook.models import Chain
from moldcare.molds.models import Mold, RunEvent
from moldcare.plant.models import Spot


def lock_mold(mold: Mold) -> Mold:
    """Lock a mold's row and return it as it is now; raise NotFound when it was withdrawn."""
    molds = Mold.objects.select_related("chain").select_for_update(of=("self",), no_key=True)
    held = molds.filter(pk=mold.pk).first()
    if held is None or held.withdrawn_at is not None:
        raise NotFound(
            _("Mold %(mold)s was withdrawn; nothing was written. Open the list of molds.")
            % {"mold": mold.number}
        )
    return held


def lock_spot(spot: Spot) -> Spot:
    """Lock a place's row and return it as it is now; raise DoesNotFit when it is out of use."""
    held = Spot.objects.select_for_update(no_key=True).filter(pk=spot.pk).first()
    if held is None or not held.is_in_use:
        raise DoesNotFit(
            _("%(spot)s is not in use any more. Choose another place.") % {"spot": spot}
        )
    return held


def lock_numbers() -> None:
    """Let one at a time give numbers to molds and auxiliaries: chains are named after them."""
    chain, _made = Chain.objects.get_or_create(kind=Chain.Kind.PLANT, defaults={"label": "plant"})
    Chain.objects.select_for_update(no_key=True).get(pk=chain.pk)


def lock_chain(chain: Chain) -> None:
    """Lock a chain before lives are derived, where its entry can only be written after them."""
    Chain.objects.select_for_update(no_key=True).get(pk=chain.pk)


def counters_touched(*, molds: Iterable[int] = (), presses: Iterable[int] = ()) -> set[int]:
    """Return the counters that were ever fitted to the molds or presses."""
    return set(
        CounterFitting.objects.filter(
            Q(mold__in=list(molds)) | Q(press__in=list(presses))
        ).values_list("counter_id", flat=True)
    )


def counters_that_count(mold: Mold) -> set[int]:
    """Return the counters that ever counted for a mold: its own, and those of its presses."""
    presses = RunEvent.objects.filter(mold=mold).values_list("press_id", flat=True).distinct()
    return counters_touched(molds=[mold.pk], presses=presses)


def known_so_far(counters: Iterable[int]) -> int:
    """Lock the counters and return the newest arrival number: what a fact about them came after."""
    lock_counters(counters)
    return newest_reading_number()


def save_once(row: models.Model, *, fields: Iterable[str] | None = None) -> None:
    """Save a record; raise DoesNotFit when somebody wrote the same name at the same moment."""
    try:
        with transaction.atomic():
            row.save(update_fields=list(fields) if fields is not None else None)
    except IntegrityError as error:
        raise DoesNotFit(
            _("Somebody wrote the same number or name at this moment. Look at it, then try again.")
        ) from error
