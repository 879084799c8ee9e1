"""What a page says about when work falls due follows the shifts as they are worked."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client

from moldcare.acts.doing import Doing
from moldcare.acts.plant import add_days_off, add_shift_exception, take_back_exception
from moldcare.acts.refresh import refresh_counts
from moldcare.plant.models import ShiftException
from tests import factories
from tests.pages.shown import words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def test_a_holiday_takes_its_shifts_out_of_what_is_said_and_its_end_brings_them_back(
    doing: Doing, now: datetime, client_of: Callable[[str], Client]
) -> None:
    factories.plant(zone="Europe/Berlin")
    factories.three_shifts()
    start = now - timedelta(days=4)
    mold = factories.mold(number="0417")
    factories.set_in_press(mold, press=factories.spot(), author=doing.person, at=start)
    factories.cycle_time(mold, author=doing.person)
    counter = factories.counter(on=mold, author=doing.person)
    rule = factories.care_rule(mold=mold, count_base=20_000)
    factories.completion(rule, author=doing.person, at=start + timedelta(hours=4))
    rows = [(start + timedelta(hours=12 * turn), 2_000 * turn) for turn in range(1, 8)]
    factories.readings(counter, rows=rows, author=doing.person)
    refresh_counts(molds=[mold.pk], counters=[counter.pk])

    def said() -> str:
        return words_of(client_of("lead").get("/molds/0417"))

    # 2,000 in twelve hours: the rest is run a day and a half from now
    thursday = now.date() + timedelta(days=1)
    assert "Due about Thu late shift." in said()
    written = add_days_off(doing, days=[(thursday, "holiday")])
    assert "Due about Thu." in said()
    assert "late shift" not in said()
    add_shift_exception(doing, on=thursday, is_worked=True, shift_name="late", reason="rush order")
    assert "Due about Thu late shift." in said()
    extra = ShiftException.objects.latest("id")
    for row in (extra, ShiftException.objects.get(pk=written.row_id)):
        take_back_exception(doing, exception=row, reason="not so after all")
    assert "Due about Thu late shift." in said()
