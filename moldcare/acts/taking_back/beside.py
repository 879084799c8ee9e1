"""Owners and racks that a register made: they go with it unless something else uses them."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from moldcare.acts.moving_in import OWNER_ADDED, RACK_ADDED, Brought
from moldcare.acts.taking_back.values import Work
from moldcare.molds.models import Mold, Owner
from moldcare.molds.queries import moves_in_force
from moldcare.plant.models import Rate, Spot


def lock_beside(brought: Sequence[Brought]) -> None:
    """Lock the racks and owners that an import made, in the order in which acts lock."""
    racks = [each.spot for each in brought if each.spot is not None]
    owners = [each.owner for each in brought if each.owner is not None]
    for rows in (Spot.objects.filter(pk__in=racks), Owner.objects.filter(pk__in=owners)):
        list(rows.order_by("pk").select_for_update(no_key=True).values_list("pk"))


def withdraw_owners(brought: Sequence[Brought], *, work: Work) -> list[str]:
    """Withdraw the owners whose no mold is; return their names. Call it once molds are done."""
    rows = {each.owner: each for each in brought if each.act == OWNER_ADDED}
    molds = Mold.objects.filter(owner__in=list(rows), withdrawn_at__isnull=True)
    theirs = dict(molds.order_by("-sort_key").values_list("owner_id", "number"))
    withdrawn = []
    for owner in Owner.objects.filter(pk__in=list(rows)).order_by("pk"):
        why = ""
        if owner.withdrawn_at is not None:
            continue
        if owner.pk in theirs:
            why = _("Mold %(mold)s is theirs.") % {"mold": theirs[owner.pk]}
        elif not owner.is_customer or owner.retention_years is not None or owner.contact:
            why = _("It was changed since.")
        if why:
            what = _("Owner %(owner)s") % {"owner": owner}
            work.stays(what, row=rows[owner.pk].row, why=why)
            continue
        owner.withdrawn_at = work.doing.now
        owner.save(update_fields=["withdrawn_at"])
        withdrawn.append(owner.name)
    return withdrawn


def put_racks_out_of_use(brought: Sequence[Brought], *, work: Work) -> list[str]:
    """Put the racks out of use that no mold was in; return their numbers. Call it after molds."""
    rows = {each.spot: each for each in brought if each.act == RACK_ADDED}
    moves = moves_in_force().filter(spot__in=list(rows), mold__withdrawn_at__isnull=True)
    there = dict(moves.order_by("-mold__sort_key").values_list("spot_id", "mold__number"))
    priced = set(Rate.objects.filter(spot__in=list(rows)).values_list("spot_id", flat=True))
    put_out = []
    for rack in Spot.objects.filter(pk__in=list(rows), is_in_use=True).order_by("pk"):
        why = ""
        if rack.pk in there:
            why = _("Mold %(mold)s is or was there.") % {"mold": there[rack.pk]}
        elif rack.pk in priced or (rack.name and not rows[rack.pk].before):
            why = _("It was changed since.")
        if why:
            what = _("Rack %(rack)s") % {"rack": rack.number}
            work.stays(what, row=rows[rack.pk].row, why=why)
            continue
        rack.is_in_use = False
        rack.save(update_fields=["is_in_use"])
        put_out.append(rack.number)
    return put_out
