"""What an hour costs, from a date on."""

from datetime import date
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.records import checked_fact
from moldcare.acts.rights import Right, require
from moldcare.plant.models import Rate, Spot
from moldcare.plant.queries import rates_in_force, the_plant


def add_rate(
    doing: Doing, *, kind: str, amount: Decimal | None, valid_from: date, spot: Spot | None = None
) -> Written:
    """Write down what an hour costs from a date on: of one spot, or of all that have none.

    Without an amount the spot has no rate of its own from then on. The first rate of a kind may
    begin at any date. Later ones begin in this month at the earliest: a month that is over keeps
    its money. Of two from one date the later word counts. A rate is in the currency that the
    plant has when it is written, and stays in it.

    Raises
    ------
    DoesNotFit
        If it would change the money of a month that is over, or says what holds already.
    """
    require(doing.person, Right.EDIT_RATES)

    def do() -> dict[str, Any]:
        plant = the_plant()
        month = doing.now.astimezone(ZoneInfo(plant.zone)).date().replace(day=1)
        same_kind = Rate.objects.filter(kind=kind)
        if valid_from < month and same_kind.exists():
            raise DoesNotFit(
                _("A rate from %(date)s would change months that are over. Begin on %(month)s.")
                % {"date": valid_from, "month": month}
            )
        same = rates_in_force().filter(kind=kind, spot=spot)
        held = same.filter(valid_from=valid_from).first()
        if held is not None and (held.amount, held.currency) == (amount, plant.currency):
            raise DoesNotFit(_("This rate is there already. Nothing was written."))
        before = same.filter(valid_from__lte=valid_from).first()
        if amount is None and (before is None or before.amount is None):
            raise DoesNotFit(_("There is no rate of its own that could end on this day."))
        row = Rate(
            kind=kind,
            spot=spot,
            amount=amount,
            currency=plant.currency,
            valid_from=valid_from,
            written_at=doing.now,
        )
        checked_fact(row)
        row.save()
        where = f" of {spot.kind} {spot.number}" if spot else ""
        entry = plant_entry(
            doing,
            kind="rate",
            sentence=(
                f"An hour ({kind}){where} has no rate of its own from {valid_from}."
                if amount is None
                else f"An hour ({kind}){where} costs {amount} {plant.currency} from {valid_from}"
                f"{', in place of what was written before' if held is not None else ''}."
            ),
            facts={
                "kind": kind,
                "spot": spot.pk if spot else None,
                "amount": amount,
                "currency": plant.currency,
                "valid_from": valid_from,
            },
        )
        return answer_of(row, entry=entry)

    body = {"kind": kind, "amount": amount, "valid_from": valid_from, "spot": spot}
    return Written.read(once(doing, "add_rate", body, do))
