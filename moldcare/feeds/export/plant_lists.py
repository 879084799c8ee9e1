"""Lists of what the plant has: molds and all that belongs to them, spots, people, counters."""

from collections.abc import Iterator
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext_lazy as _

from moldcare.acts.rights import Right
from moldcare.counters.models import Counter
from moldcare.counters.queries import fittings_now
from moldcare.feeds.export.shapes import (
    ROWS_AT_ONCE,
    Asked,
    Column,
    ListShape,
    Queried,
    Row,
    labels,
    places,
)
from moldcare.molds.models import (
    Auxiliary,
    Circuit,
    CircuitHalf,
    Component,
    ConditionNote,
    ConditionNoteCondition,
    CycleTime,
    Filler,
    Fitting,
    Mold,
    ResinGroup,
    Supply,
)
from moldcare.molds.queries import moves_in_force, owners_in_use
from moldcare.plant.models import Person, PersonRole, Spot, SpotKind


def _molds(asked: Asked) -> QuerySet[Any]:
    moves = moves_in_force().filter(mold=OuterRef("pk")).order_by("-at", "-id")
    notes = ConditionNote.objects.filter(mold=OuterRef("pk")).order_by("-at", "-id")
    cycles = CycleTime.objects.filter(mold=OuterRef("pk"), valid_from__lte=asked.now)
    newest = cycles.order_by("-valid_from", "-id")
    return Mold.objects.order_by("sort_key", "number", "pk").annotate(
        spot_kind=Subquery(moves.values("spot__kind")[:1]),
        spot_number=Subquery(moves.values("spot__number")[:1]),
        spot_since=Subquery(moves.values("at")[:1]),
        condition=Subquery(notes.values("condition")[:1]),
        standard_s=Subquery(newest.values("standard_s")[:1]),
        shortest_s=Subquery(newest.values("shortest_s")[:1]),
    )


_MOLDS = Queried(
    query=_molds,
    columns=(
        Column(heading=_("Mold"), path="number"),
        Column(heading=_("Name"), path="name"),
        Column(heading=_("Class"), path="mold_class"),
        Column(heading=_("Cavities"), path="cavity_count"),
        Column(heading=_("Mass of the A half in kg"), path="mass_a_kg"),
        Column(heading=_("Mass of the B half in kg"), path="mass_b_kg"),
        Column(heading=_("Owner"), path="owner__name"),
        Column(heading=_("Resin"), path="resin"),
        Column(heading=_("Resin group"), path="resin_group", words=labels(ResinGroup)),
        Column(heading=_("Filler"), path="filler", words=labels(Filler)),
        Column(heading=_("Finish"), path="finish"),
        Column(heading=_("Cycle time in s"), path="standard_s", words=places),
        Column(heading=_("Shortest cycle in s"), path="shortest_s", words=places),
        Column(heading=_("Kind of place"), path="spot_kind", words=labels(SpotKind)),
        Column(heading=_("Place"), path="spot_number"),
        Column(heading=_("There since"), path="spot_since"),
        Column(heading=_("Condition"), path="condition", words=labels(ConditionNoteCondition)),
        Column(heading=_("Cycles"), path="life__cycles"),
        Column(heading=_("Shots"), path="life__shots"),
        Column(heading=_("Newest reading"), path="life__newest_at"),
        Column(heading=_("Cycles before our records"), path="opening_count"),
        Column(heading=_("True as of"), path="opening_at"),
        Column(heading=_("On whose word"), path="opening_source"),
        Column(heading=_("Drawing revision"), path="drawing_revision"),
        Column(heading=_("Entered"), path="entered_at"),
        Column(heading=_("Withdrawn"), path="withdrawn_at"),
    ),
)
_half = labels(CircuitHalf)


def _circuits(_asked: Asked) -> Iterator[Row]:
    rows = Circuit.objects.select_related("mold").prefetch_related("items")
    for row in rows.order_by("mold__sort_key", "mold__number", "pk").iterator(ROWS_AT_ONCE):
        items = sorted(row.items.all(), key=lambda item: item.place)
        yield (
            row.mold.number,
            row.ident,
            _half(row.half),
            row.bore_mm,
            row.length_mm,
            row.bends,
            row.bubblers,
            row.straight_baffles,
            row.spiral_baffles,
            ", ".join(f"{item.get_kind_display()} {item.number}" for item in items),
            row.couplings,
            row.looped_with,
            row.medium,
            row.design_flow_l_min,
            row.rise_limit_k,
        )


def _components(_asked: Asked) -> QuerySet[Any]:
    newest = Fitting.objects.filter(component=OuterRef("pk")).order_by("-at", "-id")
    return Component.objects.order_by("serial", "pk").annotate(
        in_mold=Subquery(newest.values("position__mold__number")[:1]),
        in_position=Subquery(newest.values("position__ident")[:1]),
        since_at=Subquery(newest.values("at")[:1]),
    )


_COMPONENTS = Queried(
    query=_components,
    columns=(
        Column(heading=_("Serial number"), path="serial"),
        Column(heading=_("Name"), path="name"),
        Column(heading=_("Mold"), path="in_mold"),
        Column(heading=_("Position"), path="in_position"),
        Column(heading=_("There since"), path="since_at"),
        Column(heading=_("Cycles before our records"), path="opening_cycles"),
        Column(heading=_("Shots before our records"), path="opening_shots"),
    ),
)
_SPOTS = Queried(
    query=lambda _asked: Spot.objects.order_by("kind", "number", "pk"),
    columns=(
        Column(heading=_("Kind of place"), path="kind", words=labels(SpotKind)),
        Column(heading=_("Place"), path="number"),
        Column(heading=_("Name"), path="name"),
        Column(heading=_("Clamp force in kN"), path="clamp_kn"),
        Column(heading=_("In use"), path="is_in_use"),
    ),
)
_OWNERS = Queried(
    query=lambda _asked: owners_in_use(),
    columns=(
        Column(heading=_("Owner"), path="name"),
        Column(heading=_("A customer"), path="is_customer"),
        Column(heading=_("Years to keep records"), path="retention_years"),
        Column(heading=_("Contact"), path="contact"),
    ),
)
_AUXILIARIES = Queried(
    query=lambda _asked: Auxiliary.objects.order_by("number", "pk"),
    columns=(
        Column(heading=_("Auxiliary"), path="number"),
        Column(heading=_("Name"), path="name"),
        Column(heading=_("Kind"), path="kind"),
        Column(heading=_("Entered"), path="entered_at"),
        Column(heading=_("Withdrawn"), path="withdrawn_at"),
    ),
)
# neither password nor PIN
_PEOPLE = Queried(
    query=lambda _asked: Person.objects.order_by("name", "pk"),
    columns=(
        Column(heading=_("Name"), path="name"),
        Column(heading=_("Sign-in name"), path="username"),
        Column(heading=_("Badge number"), path="badge"),
        Column(heading=_("Role"), path="role", words=labels(PersonRole)),
        Column(heading=_("Language"), path="language"),
        Column(heading=_("May sign in"), path="is_active"),
        Column(heading=_("Is a wall screen"), path="is_wall"),
    ),
)


def _counters(_asked: Asked) -> Iterator[Row]:
    now = {fitting.counter_id: fitting for fitting in fittings_now()}
    rows = Counter.objects.select_related("total").order_by("label", "pk")
    for row in rows.iterator(ROWS_AT_ONCE):
        fitting = now.get(row.pk)
        total = getattr(row, "total", None)
        yield (
            row.label,
            row.digits,
            row.rollover,
            fitting.mold.number if fitting and fitting.mold else None,
            fitting.press.number if fitting and fitting.press else None,
            fitting.at if fitting else None,
            total.newest_value if total else None,
            total.newest_at if total else None,
            total.newest_total if total else None,
        )


def _supplies(_asked: Asked) -> Iterator[Row]:
    rows = Supply.objects.prefetch_related("molds").order_by("number", "pk")
    for row in rows.iterator(ROWS_AT_ONCE):
        numbers = sorted(mold.number for mold in row.molds.all())
        yield (
            row.number,
            row.name,
            row.unit,
            row.minimum,
            row.place,
            ", ".join(numbers),
            row.withdrawn_at,
        )


PLANT_LISTS = (
    ListShape(
        name="molds",
        title=_("Molds"),
        about=_("Every mold with owner, resin, cycle time, place, condition and counts."),
        headings=_MOLDS.headings,
        rows=_MOLDS,
    ),
    ListShape(
        name="circuits",
        title=_("Circuits"),
        about=_("Cooling circuits with bores, lengths, bubblers and baffles."),
        headings=(
            _("Mold"),
            _("Circuit"),
            _("Half"),
            _("Bore in mm"),
            _("Length in mm"),
            _("Bends"),
            _("Bubblers"),
            _("Straight baffles"),
            _("Spiral baffles"),
            _("Along the path"),
            _("Couplings"),
            _("Looped with"),
            _("Medium"),
            _("Design flow in l/min"),
            _("Limit of the temperature rise in K"),
        ),
        rows=_circuits,
    ),
    ListShape(
        name="components",
        title=_("Components"),
        about=_("Parts with a serial number, and where each is."),
        headings=_COMPONENTS.headings,
        rows=_COMPONENTS,
    ),
    ListShape(
        name="auxiliaries",
        title=_("Auxiliaries"),
        about=_("Temperature controllers, robots and the like."),
        headings=_AUXILIARIES.headings,
        rows=_AUXILIARIES,
    ),
    ListShape(
        name="counters",
        title=_("Counters"),
        about=_("Where each sits and what it showed last."),
        headings=(
            _("Counter"),
            _("Digits"),
            _("Begins again after"),
            _("Mold"),
            _("Press"),
            _("There since"),
            _("Newest reading"),
            _("Read at"),
            _("Counted in all"),
        ),
        rows=_counters,
    ),
    ListShape(
        name="spots",
        title=_("Presses and places"),
        about=_("Presses, benches, racks and places outside."),
        headings=_SPOTS.headings,
        rows=_SPOTS,
    ),
    ListShape(
        name="supplies",
        title=_("Supplies"),
        about=_("What is kept on the shelf, and for which molds."),
        headings=(
            _("Supply"),
            _("Name"),
            _("Unit"),
            _("Minimum on the shelf"),
            _("Place on the shelf"),
            _("Molds"),
            _("Withdrawn"),
        ),
        rows=_supplies,
    ),
    ListShape(
        name="owners",
        title=_("Owners"),
        about=_("Owners of molds, and how long their records are kept."),
        headings=_OWNERS.headings,
        rows=_OWNERS,
    ),
    ListShape(
        name="people",
        title=_("People"),
        about=_("Names, badges and roles; no password and no PIN."),
        headings=_PEOPLE.headings,
        rows=_PEOPLE,
        right=Right.RESET_PIN,
    ),
)
