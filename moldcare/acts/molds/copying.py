"""Adding a mold that is built like another: all that is said of that one, with its rules."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import Incomplete
from moldcare.acts.locks import lock_mold
from moldcare.acts.molds.identity import MOLD_FIELDS, MoldAdded, add_mold
from moldcare.acts.molds.parts import CIRCUIT_FIELDS, POSITION_FIELDS
from moldcare.acts.refresh import refresh_care, refreshing_once
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.steps import steps_of
from moldcare.acts.rules.writing import RULE_FIELDS, new_rule, save_new
from moldcare.acts.words import tidy
from moldcare.care.models import CareRule, Cover, TakenSet
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Entry
from moldcare.molds.models import (
    Cavity,
    Circuit,
    CircuitItem,
    Configuration,
    CycleTime,
    Mold,
    Position,
    Supply,
    name_key,
)
from moldcare.plant.models import Spot

# what is the new mold's own: its name and number, its life, its place
_OWN = {"number", "name", "opening_count", "opening_at", "opening_source"}


def copy_mold(
    doing: Doing,
    *,
    source: Mold,
    number: str,
    name: str,
    place: Spot | None = None,
    opening_count: int = 0,
    opening_source: str = "",
) -> MoldAdded:
    """Add a mold built like another one.

    Class, cavities, positions, circuits with what sits in them, configurations, supplies, and the
    care rules as they stand on the other mold, adjusted intervals included, are as there.
    Components are pieces of their own and are not copied; neither is anything that happened.

    Raises
    ------
    Incomplete
        If the number is taken, or the other mold's own number.
    NotFound
        If the other mold was withdrawn.
    """
    require(doing.person, Right.EDIT_MOLDS)
    require(doing.person, Right.EDIT_RULES)
    inner = Doing(person=doing.person, now=doing.now)
    opening = {"opening_count": opening_count, "opening_source": opening_source}

    def do() -> dict[str, Any]:
        if name_key(tidy(number)) == name_key(source.number):
            raise Incomplete(_("Give the copy a number of its own."))
        held = lock_mold(source)
        # what is derived takes its locks last
        with refreshing_once():
            mold = _added(inner, held, number=number, name=name, place=place, **opening)
            positions, circuits = _parts(held, to=mold)
            supplies = list(Supply.objects.filter(molds=held, withdrawn_at__isnull=True))
            mold.supplies.add(*supplies)
            rules = _rules(inner, held, to=mold, positions=positions, circuits=circuits)
            entry = _entry(
                inner,
                held,
                to=mold,
                made={
                    "positions": [row.ident for row in positions.values()],
                    "circuits": [row.ident for row in circuits.values()],
                    "care_rules": rules,
                    "supplies": [row.number for row in supplies],
                },
            )
            refresh_care(molds=[mold.pk])
        return answer_of(mold, entry=entry, number=mold.number)

    body = {
        "source": source,
        "number": number,
        "name": name,
        "place": place,
        **opening,
    }
    return MoldAdded.read(once(doing, "copy_mold", body, do))


def _added(doing: Doing, source: Mold, *, number: str, **own: Any) -> Mold:
    standard, shortest = _cycle_time(source, doing=doing)
    like = {each: getattr(source, each) for each in MOLD_FIELDS if each not in _OWN}
    added = add_mold(
        doing, number=number, standard_cycle_s=standard, shortest_cycle_s=shortest, **like, **own
    )
    return Mold.objects.select_related("chain").get(pk=added.row_id)


def _entry(doing: Doing, source: Mold, *, to: Mold, made: Mapping[str, list[str]]) -> Entry:
    said = [f"{len(names)} {what.replace('_', ' ')}" for what, names in made.items() if names]
    with_these = f", with {', '.join(said)} as there" if said else ""
    return append_entry(
        to.chain,
        kind="mold_copied",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=f"Built like mold {source.number}{with_these}.",
        facts={"mold": to.number, "source": source.number, "source_id": source.pk, **made},
    )


def _cycle_time(source: Mold, *, doing: Doing) -> tuple[Decimal | None, Decimal | None]:
    rows = CycleTime.objects.filter(mold=source, valid_from__lte=doing.now)
    newest = rows.order_by("valid_from", "id").last()
    return (None, None) if newest is None else (newest.standard_s, newest.shortest_s)


def _parts(source: Mold, *, to: Mold) -> tuple[dict[int, Position], dict[int, Circuit]]:
    """Give a mold the parts of another; return by the keys there what they are here."""
    cavities = _cavities(source, to=to)
    positions = {}
    for row in Position.objects.filter(mold=source).order_by("id"):
        position = Position(mold=to, **{each: getattr(row, each) for each in POSITION_FIELDS})
        position.cavity = cavities[row.cavity_id] if row.cavity_id else None
        position.save()
        positions[row.pk] = position
    circuits = {}
    for like in Circuit.objects.filter(mold=source).order_by("id"):
        circuit = Circuit(mold=to, **{each: getattr(like, each) for each in CIRCUIT_FIELDS})
        circuit.save()
        circuits[like.pk] = circuit
    for item in CircuitItem.objects.filter(circuit__in=list(circuits)).order_by("id"):
        CircuitItem.objects.create(
            circuit=circuits[item.circuit_id],
            place=item.place,
            kind=item.kind,
            number=item.number,
            position=positions[item.position_id] if item.position_id else None,
            at=item.at,
        )
    Configuration.objects.bulk_create(
        Configuration(mold=to, name=row.name)
        for row in Configuration.objects.filter(mold=source).order_by("id")
    )
    return positions, circuits


def _cavities(source: Mold, *, to: Mold) -> dict[int, Cavity]:
    """Call the new mold's cavities as the other's are; return them by the keys there."""
    theirs = list(Cavity.objects.filter(mold=source).order_by("id"))
    ours = list(Cavity.objects.filter(mold=to).order_by("id"))
    for n, row in enumerate(ours):
        # no name may stand in the way of another while all of them are given
        Cavity.objects.filter(pk=row.pk).update(ident=f"\x1f{n}")
    for row, like in zip(ours, theirs, strict=True):
        row.ident, row.part = like.ident, like.part
    Cavity.objects.bulk_update(ours, ["ident", "part"])
    return {like.pk: row for row, like in zip(ours, theirs, strict=True)}


def _rules(
    doing: Doing,
    source: Mold,
    *,
    to: Mold,
    positions: dict[int, Position],
    circuits: dict[int, Circuit],
) -> list[str]:
    """Write the rules of another mold for this one, as they stand there; return their names."""
    rows = list(CareRule.objects.filter(mold=source, withdrawn_at__isnull=True).order_by("id"))
    written: dict[int, CareRule] = {}
    covers = _covers(rows)
    for row in _covered_first(rows, covers=covers):
        rule = new_rule(
            to,
            at=doing.now,
            target=row.target,
            position=positions[row.position_id] if row.position_id else None,
            circuit=circuits[row.circuit_id] if row.circuit_id else None,
        )
        for each in RULE_FIELDS:
            setattr(rule, each, getattr(row, each))
        rule.reason = row.reason or f"as on mold {source.number}"
        rule.from_set_rule, rule.is_adjusted = row.from_set_rule, row.is_adjusted
        save_new(
            doing,
            rule,
            subject=to,
            steps=steps_of(row),
            covers=[written[each].pk for each in covers[row.pk]],
        )
        written[row.pk] = rule
    for taken in TakenSet.objects.filter(mold=source):
        TakenSet.objects.create(
            mold=to,
            rule_set=taken.rule_set,
            revision=taken.revision,
            without=taken.without,
            left_aside=taken.left_aside,
            taken_at=doing.now,
        )
    return [row.name for row in rows]


def _covers(rows: list[CareRule]) -> dict[int, list[int]]:
    keys = {row.pk for row in rows}
    found: dict[int, list[int]] = {key: [] for key in keys}
    for covering, covered in Cover.objects.filter(covering__in=keys, covered__in=keys).values_list(
        "covering_id", "covered_id"
    ):
        found[covering].append(covered)
    return found


def _covered_first(rows: list[CareRule], *, covers: dict[int, list[int]]) -> list[CareRule]:
    """Return rules so that each comes after those it covers; covers never go in a circle."""
    by_key, ordered, seen = {row.pk: row for row in rows}, [], set[int]()

    def visit(key: int) -> None:
        if key in seen:
            return
        seen.add(key)
        for covered in covers[key]:
            visit(covered)
        ordered.append(by_key[key])

    for row in rows:
        visit(row.pk)
    return ordered
