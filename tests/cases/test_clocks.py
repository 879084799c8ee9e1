"""Wall times that never came or came twice, a clock that goes back, and days far from UTC."""

import io
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pypdf
import pytest
import time_machine
from django.core.management import call_command
from django.http import HttpResponse
from django.test import Client

from moldcare.acts import refresh
from moldcare.acts.doing import Doing
from moldcare.acts.floor import note_condition
from moldcare.acts.interruptions import report_interruption
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.signing import SignedFrom, TaskResult, sign_order
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.production.models import Interruption
from moldcare.work.models import Order
from tests import factories
from tests.cases.story import Story

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(story: Story) -> Client:
    client = Client()
    client.force_login(story.lead)
    return client


def report(client: Client, *, since: str, which: str = "") -> HttpResponse:
    sent = {"since": "typed", "from_at": since, "from_at-which": which, "finding": "flash"}
    return client.post("/molds/0417/interruption", sent)  # type: ignore[return-value]


def test_a_time_that_never_came_is_refused_with_what_was_typed(
    story: Story, client: Client, clock: object
) -> None:
    story.mold("0417", since="2026-01-05 06:00")
    answer = report(client, since="2026-03-29T02:30")
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert "this time never came" in shown
    assert 'value="2026-03-29T02:30"' in shown
    assert not Interruption.objects.exists()


@pytest.mark.parametrize(("which", "hour"), [("first", 0), ("second", 1)])
def test_a_time_that_came_twice_is_asked_about_and_then_taken(
    story: Story, client: Client, clock: object, which: str, hour: int
) -> None:
    story.mold("0417", since="2026-01-05 06:00")
    answer = report(client, since="2026-10-25T02:30")
    assert answer.status_code == 422
    assert "this time came twice" in answer.content.decode()
    assert not Interruption.objects.exists()
    assert report(client, since="2026-10-25T02:30", which=which).status_code == 302
    # summer time is two hours ahead of UTC, winter time one
    assert Interruption.objects.get().from_at == datetime(2026, 10, 25, hour, 30, tzinfo=UTC)


def text_of(path: Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def test_a_clock_that_goes_back_keeps_the_order_and_is_said_on_paper(
    story: Story, tmp_path: Path
) -> None:
    mold = story.mold("0417", since="2026-11-02 06:00")
    start = story.at("2026-11-25 07:00")
    for minutes in (0, 5, -5, 10):
        doing = Doing(person=story.lead, now=start + timedelta(minutes=minutes))
        note_condition(doing, mold=mold, at=doing.now, condition="needs_work", note=f"{minutes}")
    numbers = list(Entry.objects.filter(chain=mold.chain).values_list("number", flat=True))
    assert numbers[-4:] == list(range(numbers[-1] - 3, numbers[-1] + 1))
    assert verify_logbook().is_whole
    out = tmp_path / "month.pdf"
    call_command("print_logbook", month="2026-11", mold="0417", out=out, stdout=io.StringIO())
    assert "clock" in text_of(out)


def test_the_last_evening_of_a_month_is_printed_in_that_month(story: Story, tmp_path: Path) -> None:
    factories.plant(zone="America/New_York")
    there = Story(zone=ZoneInfo("America/New_York"), lead=story.lead)
    mold = there.mold("0417", since="2026-03-01 08:00")
    report_interruption(
        there.doing("2026-03-31 23:30"),
        mold=mold,
        from_at=there.at("2026-03-31 23:30"),
        finding="Flash at cavity 3",
    )
    printed = {}
    for month in ("2026-03", "2026-04"):
        for words in ({"mold": "0417"}, {}):
            out = tmp_path / f"{month}{len(words)}.pdf"
            call_command("print_logbook", month=month, out=out, stdout=io.StringIO(), **words)
            printed[month, len(words)] = "Flash at cavity 3" in text_of(out)
    assert printed == {
        ("2026-03", 1): True,
        ("2026-03", 0): True,
        ("2026-04", 1): False,
        ("2026-04", 0): False,
    }


def test_a_signature_that_fails_half_way_takes_no_number(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    mold = story.mold("0417", since="2026-11-02 06:00")
    rule = factories.care_rule(mold=mold, name="Vents, wipe")
    story.done(rule, at="2026-11-24 07:00")
    now = "2026-11-25 07:00"
    written = write_order(story.doing(now), mold=mold, rules=[rule])
    order = Order.objects.get(pk=written.pk)
    hand_out(story.doing(now), order=order)
    lines = {line.pk: TaskResult(outcome="done", grade="light") for line in order.tasks.all()}

    def sign() -> None:
        sign_order(
            story.doing(now),
            order=order,
            signer=story.lead,
            minutes=20,
            source=SignedFrom.PAPER,
            results=lines,
        )

    def no_room(**_touched: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(refresh, "refresh_care", no_room)
        with pytest.raises(OSError, match="No space"):
            sign()
    order.refresh_from_db()
    assert order.signed_at is None
    with time_machine.travel(story.at(now), tick=False):
        sign()
    numbers = Entry.objects.filter(chain=mold.chain).order_by("number")
    numbers = list(numbers.values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
    assert Entry.objects.filter(kind="order").count() == 2
    assert verify_logbook().is_whole
