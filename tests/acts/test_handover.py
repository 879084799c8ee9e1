"""Handing a shift over, and taking it."""

from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.handover import (
    LONGEST_NOTE,
    HandoverLine,
    HandoverSection,
    correct_handover,
    give_handover,
    take_handover,
)
from moldcare.acts.sign_in import SignInRefused
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person
from moldcare.work.handover_queries import handovers, untaken_handover
from moldcare.work.models import Handover, HandoverTaken
from tests import factories

pytestmark = pytest.mark.django_db

SECTIONS = [
    HandoverSection(
        key="running", lines=[HandoverLine(mold="M-7", place="3", say="1,200 shots are left.")]
    ),
    HandoverSection(key="parts_out", lines=[]),
]


@pytest.fixture
def anna() -> Person:
    factories.plant()
    return factories.person(name="Anna", pin="2904", badge="4711")


@pytest.fixture
def ben() -> Person:
    return factories.person(name="Ben", pin="7391", badge="4712")


@pytest.fixture
def early(doing: Doing, anna: Person) -> Handover:
    return given(doing, anna)


def given(doing: Doing, giver: Person, **fields: str) -> Handover:
    told = {"pin": "2904", "shift_name": "early", "note": "Press 3 drips.", **fields}
    row = give_handover(doing, giver=giver, sections=SECTIONS, **told)
    return Handover.objects.get(pk=row.row_id)


def test_what_is_passed_on_is_signed_by_both_in_the_plants_logbook(
    doing: Doing, early: Handover, anna: Person, ben: Person
) -> None:
    assert untaken_handover() == early
    entry = early.entry
    assert (entry.chain.kind, entry.author, entry.meaning) == ("plant", anna, "done")
    assert entry.sentence == (
        "The early shift is handed over. Passed on: running 1. Press 3 drips."
    )
    assert '"1,200 shots are left."' in entry.facts

    take_handover(doing, handover=early, taker=ben, pin="7391", note="Seen.")
    taken = HandoverTaken.objects.get()
    assert (taken.handover, taken.person) == (early, ben)
    assert (taken.entry.author, taken.entry.meaning) == (ben, "accepted")
    assert taken.entry.sentence == "The handover of the early shift is taken. Seen."
    assert untaken_handover() is None


def test_each_signs_with_their_own_pin(
    doing: Doing, early: Handover, anna: Person, ben: Person
) -> None:
    with pytest.raises(SignInRefused):
        take_handover(doing, handover=early, taker=ben, pin="2904")
    # who is not signed in signs with a PIN, or not at all
    with pytest.raises(NotAllowed, match="Ben signs with a PIN"):
        take_handover(doing, handover=early, taker=ben, pin="")
    with pytest.raises(SignInRefused):
        given(doing, anna, pin="0000")
    with pytest.raises(NotAllowed):
        give_handover(
            doing,
            giver=factories.person(role="reader", pin="8642", badge="9"),
            pin="8642",
            shift_name="early",
            sections=[],
        )
    assert Handover.objects.count() == 1
    assert not HandoverTaken.objects.exists()


def test_nobody_takes_their_own_shift_and_nobody_takes_it_twice(
    doing: Doing, early: Handover, anna: Person, ben: Person
) -> None:
    with pytest.raises(NotAllowed, match="somebody else signs here"):
        take_handover(doing, handover=early, taker=anna, pin="2904")
    take_handover(doing, handover=early, taker=ben, pin="7391")
    cleo = factories.person(name="Cleo", pin="1397", badge="4713")
    with pytest.raises(DoesNotFit, match="Ben has taken this shift already"):
        take_handover(doing, handover=early, taker=cleo, pin="1397")


def test_two_taps_hand_over_once(anna: Person, doing: Doing) -> None:
    tap = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    first = given(tap, anna)
    # a reading came in between: what the plant looks like is no part of what was sent
    second = give_handover(
        tap, giver=anna, pin="2904", shift_name="early", sections=[], note="Press 3 drips."
    )
    assert second.row_id == first.pk
    assert Handover.objects.count() == 1


def test_a_handover_is_put_right_by_a_new_one_that_is_taken_anew(
    doing: Doing, early: Handover, anna: Person, ben: Person
) -> None:
    take_handover(doing, handover=early, taker=ben, pin="7391")
    told = {"note": "Press 4 drips.", "reason": "wrong press"}
    with pytest.raises(NotAllowed, match="Whoever gave it, or a lead"):
        correct_handover(doing, handover=early, signer=ben, pin="7391", **told)
    with pytest.raises(DoesNotFit, match="Nothing is different"):
        correct_handover(
            doing, handover=early, signer=anna, pin="2904", note="Press 3 drips.", reason="again"
        )
    row = correct_handover(doing, handover=early, signer=anna, pin="2904", **told)
    newer = Handover.objects.get(pk=row.row_id)
    assert (newer.corrects, newer.note, newer.facts) == (early, "Press 4 drips.", early.facts)
    assert newer.entry.corrects == early.entry
    assert list(handovers()) == [newer]
    assert untaken_handover() == newer
    with pytest.raises(DoesNotFit, match="put right"):
        correct_handover(doing, handover=early, signer=anna, pin="2904", **told)
    cleo = factories.person(name="Cleo", pin="1397", badge="4713")
    with pytest.raises(DoesNotFit, match="take the newer one"):
        take_handover(doing, handover=early, taker=cleo, pin="1397")
    early.refresh_from_db()
    assert early.note == "Press 3 drips."


@pytest.mark.parametrize(
    ("fields", "said"),
    [({"shift_name": " "}, "Say which shift"), ({"note": "x" * (LONGEST_NOTE + 1)}, "longer")],
)
def test_what_says_nothing_is_refused(
    doing: Doing, anna: Person, fields: dict[str, str], said: str
) -> None:
    with pytest.raises(Incomplete, match=said):
        given(doing, anna, **fields)
    assert not Entry.objects.filter(kind="handover").exists()
