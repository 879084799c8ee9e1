"""The pack of a tablet: the pages that it keeps for the time without a net, and how they are made.

A packed page is the page itself, asked for with the header `X-Pack` and rendered without anybody's
name in it. It is in the language of whoever is signed in.
"""

from django.db.models import Q
from django.urls import reverse

from moldcare.molds.queries import set_events_now
from moldcare.production.queries import lasting
from moldcare.work.queries import unsigned_orders

MOST_ORDERS = 40
MOST_MOLDS = 60


def pages_of_pack() -> list[str]:
    """Return the addresses of the pages that a tablet keeps, what is needed first in front."""
    handed_out = Q(handed_out_at__isnull=False) | Q(begun_at__isnull=False)
    orders = list(unsigned_orders().filter(handed_out)[:MOST_ORDERS])
    events = list(set_events_now())[:MOST_MOLDS]
    running = [event.mold.number for event in events]
    of_orders = [order.mold.number for order in orders if order.mold is not None]
    molds = list(dict.fromkeys([*of_orders, *running]))[:MOST_MOLDS]
    return [
        *(
            reverse(name)
            for name in (
                "tablet-sign-on",
                "tablet",
                "shift",
                "orders",
                "readings",
                "report-interruption",
                "scan",
            )
        ),
        *(reverse("sheet", kwargs={"number": order.number}) for order in orders),
        *(reverse("mold-interruption", kwargs={"number": number}) for number in running),
        *(reverse("interruption-end", kwargs={"pk": row.pk}) for row in lasting()[:MOST_MOLDS]),
        *(reverse("mold", kwargs={"number": number}) for number in molds),
        *(
            reverse("spot", kwargs={"kind": event.press.kind, "spot_number": event.press.number})
            for event in events
        ),
    ]
