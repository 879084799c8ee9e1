"""What a client hands in twice is done once."""

from datetime import datetime, timedelta
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import HandedInDifferently
from moldcare.handin.models import HandIn
from moldcare.plant.models import Person

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("minutes_ago", [0, 15])
def test_two_taps_that_mean_now_are_one_though_each_has_a_now_of_its_own(
    lead: Person, now: datetime, minutes_ago: int
) -> None:
    hand_in = uuid4()
    done: list[datetime] = []
    for later_us in (120_543, 171_002):
        mine = now + timedelta(microseconds=later_us)
        at = mine - timedelta(minutes=minutes_ago)

        def do(at: datetime = at) -> dict[str, int]:
            done.append(at)
            return {"row": 1}

        doing = Doing(person=lead, now=mine, hand_in=hand_in)
        assert once(doing, "report", {"from_at": at}, do) == {"row": 1}
    assert len(done) == 1
    assert HandIn.objects.count() == 1


def test_the_same_uuid_with_another_typed_instant_is_refused(lead: Person, now: datetime) -> None:
    doing = Doing(person=lead, now=now, hand_in=uuid4())
    once(doing, "report", {"at": now}, dict)
    with pytest.raises(HandedInDifferently):
        once(doing, "report", {"at": now - timedelta(hours=1)}, dict)


def test_the_same_uuid_from_another_person_is_refused(
    lead: Person, technician: Person, now: datetime
) -> None:
    hand_in = uuid4()
    once(Doing(person=lead, now=now, hand_in=hand_in), "report", {}, dict)
    with pytest.raises(HandedInDifferently):
        once(Doing(person=technician, now=now, hand_in=hand_in), "report", {}, dict)
