"""The order that an address names."""

from django.http import Http404
from django.utils.translation import gettext as _

from moldcare.work.models import Order
from moldcare.work.queries import order_numbered

LARGEST_NUMBER = 2**31 - 1


def order_or_404(number: int) -> Order:
    """Return the order with this number, or the page that says there is none."""
    order = order_numbered(number) if number <= LARGEST_NUMBER else None
    if order is None:
        raise Http404(_("There is no order %(number)s.") % {"number": number})
    return order
