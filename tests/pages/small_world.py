"""A small plant for tests that visit every page."""

from dataclasses import dataclass
from datetime import date, timedelta
from hashlib import sha256
from io import BytesIO
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from PIL import Image

from moldcare.acts.doing import Doing
from moldcare.acts.files import add_file
from moldcare.acts.handover import give_handover
from moldcare.acts.refresh import refresh_counts
from moldcare.care.models import CareRule, Completion, RuleSet, SetRule
from moldcare.counters.models import Counter, Reading
from moldcare.feeds.looks import look_first
from moldcare.feeds.models import ImportBatch, ImportRow, Upload
from moldcare.feeds.uploads import keep_upload
from moldcare.files.models import File
from moldcare.handin.models import StuckEntry, Tablet
from moldcare.logbook.append import new_chain
from moldcare.logbook.models import Entry
from moldcare.molds.models import (
    Auxiliary,
    Circuit,
    Component,
    Configuration,
    Mold,
    Owner,
    Position,
    Run,
    Supply,
)
from moldcare.plant.models import (
    CautionLine,
    Person,
    Qualification,
    ShiftException,
    ShiftPattern,
    Spot,
)
from moldcare.production.models import Interruption
from moldcare.work.models import Handover, Order
from tests import factories


@dataclass(kw_only=True)
class World:
    """A small plant, and one of each thing that a page is about."""

    people: dict[str, Person]
    press: Spot
    mold: Mold
    counter: Counter
    reading: Reading
    rule: CareRule
    entry: Entry
    order: Order
    completion: Completion
    interruption: Interruption
    run: Run
    position: Position
    circuit: Circuit
    configuration: Configuration
    component: Component
    rule_set: RuleSet
    set_rule: SetRule
    photo: File
    upload: Upload
    batch: ImportBatch
    owner: Owner
    supply: Supply
    auxiliary: Auxiliary
    caution: CautionLine
    day_off: ShiftException
    week_ahead: ShiftPattern
    qualification: Qualification
    register: ImportBatch
    kept: ImportRow
    handover: Handover


def small_world() -> World:
    """Build the small plant: one mold in a press, read twice; one that stopped; and the rest."""
    factories.plant()
    people = {role: factories.person(role=role) for role in Person.Role.values}
    lead = people["lead"]
    press = factories.spot(kind="press")
    world = World(
        people=people,
        press=press,
        **_one_mold(lead, press=press),
        **_beside(lead),
        **_set_up(people["technician"]),
    )
    _one_that_is_stuck(lead)
    refresh_counts(counters=[world.counter.pk], molds=[world.mold.pk])
    return world


def _one_that_is_stuck(lead: Person) -> None:
    """What a tablet could not hand in, under the first UUID of all."""
    Tablet.objects.create(device="shelf", last_contact_at=factories.ENTERED_AT)
    StuckEntry.objects.create(
        id=UUID(int=1),
        person=lead,
        device="shelf",
        author_said="Tomas Breuer",
        address="/orders/1001/sheet",
        said="Order 1001: worst position",
        why="The order was struck out.",
        fields=[["do", "step"], ["value", "cavity 3"]],
        photos=[],
        worked_at=factories.ENTERED_AT,
        written_at=factories.ENTERED_AT,
    )


def enlarge(world: World, *, by: int) -> None:
    """Add that many more molds, each in a press of its own with all that the first one has."""
    lead = world.people["lead"]
    for _ in range(by):
        more = _one_mold(lead, press=factories.spot(kind="press"))
        refresh_counts(counters=[more["counter"].pk], molds=[more["mold"].pk])


def _one_mold(lead: Person, *, press: Spot) -> dict[str, Any]:
    start = factories.ENTERED_AT
    mold = factories.mold()
    factories.cycle_time(mold, author=lead)
    factories.set_in_press(mold, press=press, author=lead, at=start + timedelta(hours=1))
    counter = factories.counter(on=mold, author=lead)
    first, second = (start + timedelta(hours=8), start + timedelta(hours=16))
    _, reading = factories.readings(counter, rows=[(first, 2_000), (second, 4_000)], author=lead)
    rule = factories.care_rule(mold=mold, count_base=3_000)
    factories.step(rule)
    order = factories.order(mold, rules=[rule], author=lead)
    return {
        "mold": mold,
        "counter": counter,
        "reading": reading,
        "rule": rule,
        "entry": factories.entry(mold.chain, author=lead),
        "order": order,
        "completion": factories.completion(rule, author=lead, at=start + timedelta(hours=2)),
        "interruption": _one_that_stopped(lead),
        "run": factories.run(mold, press=press, planned_from=start + timedelta(days=20)),
        "position": Position.objects.create(mold=mold, ident="C1", name="core"),
        "circuit": Circuit.objects.create(mold=mold, ident="A1", half="A"),
        "configuration": Configuration.objects.create(mold=mold, name="left hand"),
    }


def _one_that_stopped(lead: Person) -> Interruption:
    """An interruption that lasts, of a mold and in a press that nothing else is about."""
    mold, press = factories.mold(), factories.spot(kind="press")
    at = factories.ENTERED_AT + timedelta(hours=1)
    factories.set_in_press(mold, press=press, author=lead, at=at)
    refresh_counts(molds=[mold.pk])
    return factories.interruption(mold, press=press, author=lead, at=at + timedelta(hours=16))


def _one_handed_over(lead: Person) -> Handover:
    """A shift that was handed over and that nobody has taken yet."""
    now = Doing(person=lead, now=factories.ENTERED_AT)
    row = give_handover(now, giver=lead, pin="", shift_name="early", sections=[], note="Mind it.")
    return Handover.objects.get(pk=row.row_id)


def _set_up(technician: Person) -> dict[str, Any]:
    """What the setup holds beside molds."""
    at = factories.ENTERED_AT
    return {
        "owner": factories.owner(),
        "component": Component.objects.create(serial="P-1", name="core insert"),
        "supply": Supply.objects.create(number="S-1", name="grease"),
        "auxiliary": Auxiliary.objects.create(
            number="TC-1",
            name="controller",
            kind="temperature controller",
            chain=new_chain("auxiliary", "TC-1"),
            entered_at=at,
        ),
        "caution": CautionLine.objects.create(text="The ladder is fixed first.", added_at=at),
        "day_off": ShiftException.objects.create(
            on=date(2026, 5, 1), is_worked=False, reason="holiday", written_at=at
        ),
        "week_ahead": factories.three_shifts(valid_from=date(2027, 1, 4)),
        "qualification": Qualification.objects.create(
            person=technician,
            subject="hot runner",
            evidence="course",
            valid_from=date(2026, 1, 1),
            written_at=at,
        ),
    }


def _beside(lead: Person) -> dict[str, Any]:
    """What belongs to no mold: a set of rules, a photo, a file being looked at, one brought in."""
    now = Doing(person=lead, now=factories.ENTERED_AT)
    picture = BytesIO()
    Image.new("RGB", (6, 4), "gray").save(picture, "PNG")
    table = b"mold;at;reading\n8888;2026-01-05 06:00;100\n"
    batch = ImportBatch.objects.create(
        kind="readings",
        name="early round.csv",
        sha256=sha256(table).hexdigest(),
        answers={"headings": ["mold", "at", "reading"]},
        counts={"refused": 1},
        person=lead,
        written_at=factories.ENTERED_AT,
    )
    ImportRow.objects.create(
        batch=batch,
        row=2,
        cells=["8888", "2026-01-05 06:00", "100"],
        verdict="refused",
        reason="No mold of ours is called 8888.",
    )
    register = ImportBatch.objects.create(
        kind="molds",
        name="register.csv",
        sha256=sha256(b"register").hexdigest(),
        answers={"headings": ["mold", "name", "cavities"]},
        counts={"refused": 1},
        person=lead,
        written_at=factories.ENTERED_AT,
    )
    kept = ImportRow.objects.create(
        batch=register,
        row=3,
        cells=["8888", "cap", "many"],
        verdict="refused",
        reason="Cavities are no number.",
    )
    rule_set = RuleSet.objects.create(name="Any mold")
    upload = keep_upload(now, name="late round.csv", content=table)
    look_first(now, upload=upload, zone=ZoneInfo("Europe/Berlin"))
    return {
        "register": register,
        "kept": kept,
        "handover": _one_handed_over(lead),
        "rule_set": rule_set,
        "set_rule": SetRule.objects.create(
            rule_set=rule_set,
            family=factories.family(),
            name="Wipe the vents",
            count_base=10_000,
            by_resin=True,
            reason="common practice",
        ),
        "photo": File.objects.get(
            pk=add_file(now, content=picture.getvalue(), name="vents.png").pk
        ),
        "upload": upload,
        "batch": batch,
    }
