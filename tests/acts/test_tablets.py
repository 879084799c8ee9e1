"""What could not be handed in from a tablet is given to a lead once, and is then asked of it."""

from datetime import timedelta
from uuid import UUID, uuid4

from moldcare.acts.doing import Doing
from moldcare.acts.tablets import Stuck, give_to_lead
from moldcare.handin.models import StuckEntry, StuckSettled, Tablet
from moldcare.handin.queries import tablets_to_look_at

MINUTES = timedelta(minutes=5)


def stuck(hand_in: UUID, *, doing: Doing) -> Stuck:
    return Stuck(
        hand_in=hand_in,
        author_said="Tomas Breuer",
        address="/orders/1001/sheet",
        said="Order 1001: worst position",
        why="The order was struck out.",
        fields=[("value", "cavity 3")],
        photos=[],
        worked_at=doing.now,
    )


def test_it_is_kept_once_and_its_tablet_is_looked_at(doing: Doing) -> None:
    """Also a tablet that was not heard of before: nothing that is stuck is out of sight."""
    first = uuid4()
    assert not tablets_to_look_at(now=doing.now, tolerance=MINUTES).exists()
    for _tap in range(2):
        give_to_lead(doing, stuck=stuck(first, doing=doing))
    give_to_lead(doing, stuck=stuck(uuid4(), doing=doing))
    assert (StuckEntry.objects.count(), Tablet.objects.count()) == (2, 1)
    (row,) = tablets_to_look_at(now=doing.now, tolerance=MINUTES)
    assert getattr(row, "stuck_of_all", 0) == 2


def test_what_was_discarded_on_the_tablet_asks_for_nobody(doing: Doing) -> None:
    give_to_lead(doing, stuck=stuck(uuid4(), doing=doing), discarded="It was a trial.")
    assert StuckSettled.objects.get().note == "It was a trial."
    assert not tablets_to_look_at(now=doing.now, tolerance=MINUTES).exists()
