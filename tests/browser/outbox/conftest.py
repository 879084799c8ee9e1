"""A sheet, a network that fails, and a tablet in front of it."""

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from django.contrib.auth.hashers import make_password
from django.db import connection
from playwright.sync_api import BrowserContext
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, write_order
from moldcare.plant.models import Person
from moldcare.work.models import Order
from tests import factories
from tests.browser.outbox.faulty_proxy import FaultyProxy, faulty_net
from tests.browser.outbox.waiting import PIN, OutboxTablet, outbox_tablet


@pytest.fixture
def order(live_server: LiveServer, doing: Doing) -> Order:
    """A sheet with a step that takes any words, and one that takes a photo."""
    factories.plant()
    factories.three_shifts()
    rule = factories.care_rule(mold=factories.mold(number="M-2041"), name="Clean the vents")
    factories.step(rule, place=1, text="Worst position", kind="position")
    factories.step(rule, place=2, text="Photograph the vents", kind="photo")
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    hand_out(doing, order=order)
    connection.close()
    return order


@pytest.fixture
def net(live_server: LiveServer) -> Iterator[FaultyProxy]:
    """The network between the tablet and the server."""
    with faulty_net(urlsplit(live_server.url).port or 0) as proxy:
        yield proxy


@pytest.fixture
def tomas(technician: Person) -> Person:
    technician.badge, technician.name = "10417", "Tomas Breuer"
    technician.pin_hash = make_password(PIN)
    technician.save()
    return technician


@pytest.fixture
def bench(context: BrowserContext, net: FaultyProxy, order: Order, tomas: Person) -> OutboxTablet:
    """Tomas's tablet, once it has reached the server."""
    found = outbox_tablet(context, net.url, person=tomas)
    found.go("/tablet")
    found.ready()
    return found
