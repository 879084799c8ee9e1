"""What becomes of the molds of a register: new, here already, different, or not possible."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from moldcare.acts.moving_in.mold_fields import PLAIN_FIELDS, field_label
from moldcare.acts.moving_in.values import (
    TAKE,
    Became,
    Difference,
    FileCircuit,
    FileMold,
    Judged,
)
from moldcare.acts.words import tidy
from moldcare.core.shifts import local_instant
from moldcare.molds.models import Circuit, CycleTime, Mold, Owner, name_key
from moldcare.molds.queries import owners_in_use, places_of
from moldcare.plant.models import Plant, Spot
from moldcare.work.numbers import plain_decimal

_RELATIONS = ("chain", "owner", "number_key", "sort_key")
_LONGEST_CYCLE_S = Decimal(999_999)
# what the record of a circuit has no room for, in mm
_BORE_BELOW, _LENGTH_BELOW = Decimal(10_000), Decimal(10_000_000)


class CycleTimes(NamedTuple):
    """The standard cycle of a mold and the shortest one that is believed, in s."""

    standard_s: Decimal | None
    shortest_s: Decimal | None

    def with_standard(self, standard_s: Decimal) -> "CycleTimes":
        """Return them with another standard cycle; a shortest one above it is none."""
        shortest = self.shortest_s
        if shortest is not None and shortest > standard_s:
            shortest = None
        return CycleTimes(standard_s, shortest)


class MoldJudge:
    """Judges the rows of one register, in their order; everything that it looks at is read once."""

    def __init__(self, *, now: datetime, plant: Plant, file: str) -> None:
        self.now = now
        self.zone = ZoneInfo(plant.zone)
        self.file = tidy(file)[:200]
        self.molds = {
            mold.pk: mold
            for mold in Mold.objects.filter(withdrawn_at__isnull=True).select_related("owner")
        }
        self.by_number = {mold.number_key: mold for mold in self.molds.values()}
        self.owners = {name_key(owner.name): owner for owner in owners_in_use()}
        self.spots = spots_by_name()
        self.racks_out_of_use = {
            name_key(spot.number): spot
            for spot in Spot.objects.filter(kind=Spot.Kind.RACK, is_in_use=False)
        }
        self.circuits: dict[int, dict[str, FileCircuit]] = {}
        kept = Circuit.objects.order_by().values_list("mold_id", "ident", "bore_mm", "length_mm")
        for mold_id, ident, bore, length in kept.iterator():
            self.circuits.setdefault(mold_id, {})[ident] = FileCircuit(
                ident=ident, bore_mm=bore, length_mm=length
            )
        times = CycleTime.objects.order_by("valid_from", "id")
        self.cycle_times = {
            mold: CycleTimes(*seconds)
            for mold, *seconds in times.values_list("mold_id", "standard_s", "shortest_s")
        }
        self.places = {mold: move.spot for mold, move in places_of().items()}
        self.met: dict[str, int] = {}

    def judge(self, row: FileMold) -> Judged:
        """Return what becomes of one row; a mold that came before in the file is refused."""
        try:
            key = name_key(tidy(row.number))
            earlier = self.met.setdefault(key, row.row)
            if earlier != row.row:
                return refused(
                    _("Mold %(mold)s stands in row %(row)s already. Keep one of the two.")
                    % {"mold": row.number, "row": earlier}
                )
            here = self.molds.get(row.mold or 0) or self.by_number.get(key)
            reason = self._reason_against(row)
            if reason:
                return refused(reason)
            return self._new(row) if here is None else self._there(row, here=here)
        except ValidationError as error:
            return refused(validation_words(error))

    def here(self, row: FileMold) -> Mold | None:
        """Return the mold of ours that a row is about."""
        return self.molds.get(row.mold or 0) or self.by_number.get(name_key(tidy(row.number)))

    def filled(self, row: FileMold) -> Mold:
        """Return a new mold as a row describes it, not saved, its owner left to the act.

        Raises
        ------
        ValidationError
            If a field cannot stand.
        """
        given = {name: getattr(row, name) for name in PLAIN_FIELDS}
        values = {name: _tidied(value) for name, value in given.items() if value not in (None, "")}
        number = tidy(row.number)
        mold = Mold(
            number=number,
            entered_at=self.now,
            opening_at=self.opening_at(row),
            **({"name": number} | values),
        )
        if row.opening_count is not None:
            mold.opening_source = self.file
        mold.clean_fields(exclude=_RELATIONS)
        if row.owner:
            Owner(name=tidy(row.owner)).clean_fields()
        return mold

    def opening_at(self, row: FileMold) -> datetime:
        """Return the instant at which the count before our records was true."""
        if row.opening_at is None:
            return self.now
        return local_instant(datetime.combine(row.opening_at, time()), zone=self.zone)

    def spot(self, name: str) -> Spot | None:
        """Return the place of ours that a name means; a rack before any other kind."""
        return self.spots.get(name_key(tidy(name)))

    def owner(self, name: str) -> Owner | None:
        """Return the owner of ours that a name means, in any spelling."""
        return self.owners.get(name_key(tidy(name)))

    def rack_out_of_use(self, name: str) -> Spot | None:
        """Return the rack of ours that a name means, where it is out of use."""
        return self.racks_out_of_use.get(name_key(tidy(name)))

    def cycle_time(self, mold: Mold) -> "CycleTimes":
        """Return the cycle times of a mold as they are known now."""
        return self.cycle_times.get(mold.pk, CycleTimes(None, None))

    def _reason_against(self, row: FileMold) -> str:
        if row.opening_at is not None and row.opening_at > self._today():
            return _("The count is dated %(date)s, which is in the future. Check the year.") % {
                "date": row.opening_at
            }
        if row.cycle_time_s is not None and not 0 < row.cycle_time_s <= _LONGEST_CYCLE_S:
            return _("A cycle takes more than 0 seconds. Check the cycle time.")
        idents = [tidy(circuit.ident) for circuit in row.circuits]
        if len(set(idents)) < len(idents) or any(not ident for ident in idents):
            return _("Two of its circuits have one name. Give each its own.")
        if any(len(ident) > 20 for ident in idents):
            return _("A circuit's name has more than 20 signs. Shorten it.")
        for circuit in row.circuits:
            for size, most in ((circuit.bore_mm, _BORE_BELOW), (circuit.length_mm, _LENGTH_BELOW)):
                if size is not None and not 0 < size < most:
                    return _(
                        "Circuit %(circuit)s is %(size)s mm wide or long, which no circuit is. "
                        "Check the file."
                    ) % {"circuit": circuit.ident, "size": size}
        if len(tidy(row.storage_place)) > 40:
            return _("The storage place has more than 40 signs. Shorten it.")
        return ""

    def _today(self) -> date:
        return self.now.astimezone(self.zone).date()

    def _new(self, row: FileMold) -> Judged:
        self.filled(row)
        said = []
        if not row.name:
            said.append(_("The file gives no name: its number stands in for it."))
        place = self.spot(row.storage_place) if row.storage_place else None
        if row.storage_place and place is None:
            said.append(self._new_rack_words(row.storage_place))
        elif place is not None and place.kind == Spot.Kind.PRESS:
            said.append(_("It is in press %(press)s by the file: set it there.") % {"press": place})
        if row.owner and name_key(tidy(row.owner)) not in self.owners:
            said.append(_("Owner %(owner)s is made.") % {"owner": tidy(row.owner)})
        unclear = [
            each.ident for each in row.circuits if not each.half and half_of(each.ident) is None
        ]
        if unclear:
            said.append(
                _("No half is given for %(circuits)s: the A half is taken.")
                % {"circuits": ", ".join(unclear)}
            )
        return Judged(became=Became.NEW, reason=" ".join(said))

    def _new_rack_words(self, name: str) -> str:
        if self.rack_out_of_use(name) is not None:
            return _("Rack %(rack)s was out of use and is put in use.") % {"rack": tidy(name)}
        return _("Rack %(rack)s is made.") % {"rack": tidy(name)}

    def _there(self, row: FileMold, *, here: Mold) -> Judged:
        changes = self._changes(row, here=here)
        left = self._left_circuits(row, here=here)
        if not changes:
            return Judged(became=Became.SAME, reason=left)
        tried = Mold(**{field.attname: getattr(here, field.attname) for field in _columns()})
        for name, value in changes.items():
            if name in PLAIN_FIELDS:
                setattr(tried, name, value)
        tried.clean_fields(exclude=_RELATIONS)
        if "owner" in changes:
            Owner(name=changes["owner"]).clean_fields()
        if tried.cavity_count < here.cavity_count:
            return refused(
                _("A mold keeps its cavities: it has %(here)s here, %(file)s in the file.")
                % {"here": here.cavity_count, "file": row.cavity_count}
            )
        found = tuple(
            Difference(
                field=name,
                label=field_label(name),
                here=_shown(name, self._value_here(name, here=here)),
                in_file=_shown(name, value),
            )
            for name, value in changes.items()
        )
        taken = row.choice == TAKE
        return Judged(
            became=Became.CHANGED if taken else Became.DIFFERS,
            reason=f"{difference_words(found)}. {left}" if left else difference_words(found),
            differences=found,
            changes=changes,
        )

    def _changes(self, row: FileMold, *, here: Mold) -> dict[str, Any]:
        """Return what the file says otherwise; what it does not say changes nothing."""
        changes: dict[str, Any] = {}
        for name in PLAIN_FIELDS:
            value = _tidied(getattr(row, name))
            if value not in (None, "") and value != getattr(here, name):
                changes[name] = value
        if row.owner and name_key(tidy(row.owner)) != name_key(
            here.owner.name if here.owner else ""
        ):
            changes["owner"] = tidy(row.owner)
        known = self.cycle_time(here)
        if row.cycle_time_s is not None and row.cycle_time_s != known.standard_s:
            changes["cycle_time_s"] = row.cycle_time_s
        known_circuits = self.circuits.get(here.pk, {})
        more = [replace(circuit, ident=tidy(circuit.ident)) for circuit in row.circuits]
        more = [circuit for circuit in more if circuit.ident not in known_circuits]
        if more:
            changes["circuits"] = more
        # where a mold is now is the floor's to say; a list only fills what nobody knows
        if row.storage_place and here.pk not in self.places:
            place = self.spot(row.storage_place)
            if place is None or place.kind != Spot.Kind.PRESS:
                changes["storage_place"] = tidy(row.storage_place)
        return changes

    def _left_circuits(self, row: FileMold, *, here: Mold) -> str:
        """Say of which circuits that are here the file has another bore or length; they stay."""
        there = self.circuits.get(here.pk, {})
        left = [
            _("%(here)s here, %(file)s in the file")
            % {"here": circuit_words(known), "file": circuit_words(circuit)}
            for circuit in row.circuits
            if (known := there.get(tidy(circuit.ident))) is not None
            and any(
                size is not None and size != kept
                for size, kept in (
                    (circuit.bore_mm, known.bore_mm),
                    (circuit.length_mm, known.length_mm),
                )
            )
        ]
        if not left:
            return ""
        return _("Circuits that are here keep their bore and length: %(left)s.") % {
            "left": "; ".join(left)
        }

    def _value_here(self, name: str, *, here: Mold) -> Any:
        if name == "cycle_time_s":
            return self.cycle_time(here).standard_s
        if name == "circuits":
            return [circuit for _ident, circuit in sorted(self.circuits.get(here.pk, {}).items())]
        if name == "storage_place":
            return ""
        return getattr(here, name)


def refused(reason: str) -> Judged:
    """Return that a row cannot be taken, and why."""
    return Judged(became=Became.REFUSED, reason=reason)


def spots_by_name() -> dict[str, Spot]:
    """Return places in use by how lists write them: a number, or the kind before it."""
    found: dict[str, Spot] = {}
    order = (Spot.Kind.PRESS, Spot.Kind.AWAY, Spot.Kind.BENCH, Spot.Kind.RACK)
    spots = sorted(Spot.objects.filter(is_in_use=True), key=lambda spot: order.index(spot.kind))
    for spot in spots:
        found[name_key(spot.number)] = spot
        found[name_key(f"{spot.get_kind_display()} {spot.number}")] = spot
        if spot.name:
            found.setdefault(name_key(spot.name), spot)
    return found


def circuit_words(circuit: FileCircuit) -> str:
    """Return a circuit with its bore and length, where they are known: "A1 (ø 8 mm × 900 mm)".

    Signs and units alone: entries keep it, whoever brings the file in and in whatever language.
    """
    sizes = []
    if circuit.bore_mm is not None:
        sizes.append(f"ø {plain_decimal(circuit.bore_mm)} mm")
    if circuit.length_mm is not None:
        sizes.append(f"{plain_decimal(circuit.length_mm)} mm")
    return f"{circuit.ident} ({' × '.join(sizes)})" if sizes else circuit.ident


def made_circuits(mold: Mold, *, circuits: Iterable[FileCircuit]) -> list[Circuit]:
    """Return the circuits that a mold gets, not saved."""
    return [
        Circuit(
            mold=mold,
            ident=tidy(each.ident),
            half=each.half or half_of(each.ident) or Circuit.Half.A,
            bore_mm=each.bore_mm,
            length_mm=each.length_mm,
        )
        for each in circuits
    ]


def half_of(ident: str) -> str | None:
    """Return the half that a circuit's name speaks of, None where it speaks of none."""
    first = ident.strip()[:1].upper()
    return first if first in {Circuit.Half.A, Circuit.Half.B} else None


def validation_words(error: ValidationError) -> str:
    """Return why fields cannot stand, each by its name."""
    lines = []
    for name, messages in error.message_dict.items():
        lines += [f"{field_label(name)}: {message}" for message in messages]
    return " ".join(lines)


def difference_words(found: tuple[Difference, ...]) -> str:
    """Return differences as a list of rows says them: here, and in the file."""
    return "; ".join(
        _("%(field)s: %(here)s here, %(file)s in the file")
        % {"field": each.label, "here": each.here or "-", "file": each.in_file}
        for each in found
    )


def _columns() -> list[Any]:
    return [field for field in Mold._meta.concrete_fields if not field.primary_key]


def _tidied(value: Any) -> Any:
    return tidy(value) if isinstance(value, str) else value


def _shown(name: str, value: Any) -> str:
    if value in (None, "", []):
        return ""
    if isinstance(value, (list, tuple)):
        return ", ".join(map(circuit_words, value))
    if isinstance(value, int) and not isinstance(value, bool):
        return f"{value:,}"
    fields = {field.name: field for field in Mold._meta.fields}
    choices = dict(fields[name].flatchoices) if name in fields else {}
    return str(choices.get(value, value))
