"""What one row of a mold register says about its mold."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final, TypeVar

from django.utils.translation import gettext as _

from moldcare.feeds.register import units
from moldcare.feeds.register.cells import (
    Masses,
    count_in,
    masses_in,
    number_text,
    seconds_in,
    words_in,
)
from moldcare.feeds.register.circuits import circuits_in
from moldcare.feeds.register.days import Days
from moldcare.feeds.register.gather import Gathered, text_of
from moldcare.feeds.register.halves import BOTH, A, half_in
from moldcare.feeds.register.head import MEASURES
from moldcare.feeds.register.resins import filler_of, resin_group_of
from moldcare.feeds.tables import Column, Meaning, Problem, Row
from moldcare.feeds.tables.numbers import NumberDecision
from moldcare.feeds.tables.problems import refused

#: Texts that are taken as they are, with the most signs that the mold's record keeps.
TEXTS: Final = {
    Meaning.NAME: ("name", 120),
    Meaning.OWNER: ("owner", 120),
    Meaning.FINISH: ("finish", 40),
    Meaning.STORAGE_PLACE: ("storage_place", 40),
    Meaning.DRAWING_REVISION: ("drawing_revision", 40),
}
RESIN_AT_MOST: Final = 120
CAVITIES_AT_MOST: Final = 1000
MASSES: Final = frozenset([Meaning.MASS_A, Meaning.MASS_B, Meaning.MASS])
_CLASS: Final = re.compile(r"(?:spi|class|klasse|clase|plastics|c)?\s*-?\s*(10[1-5])")
_PRODUCT: Final = re.compile(r"([0-9]{1,4})\s*[x×*]\s*([0-9]{1,4})")
_FAMILY: Final = re.compile(r"^(?:family|familie[a-z]*|familia)\s*:?\s*")
_SUM: Final = re.compile(r"[0-9]{1,4}(?:\s*\+\s*[0-9]{1,4})+")
_CAVITIES: Final = re.compile(
    r"([0-9]{1,4})\s*-?\s*(?:cav(?:it(?:y|ies))?|fach|nester|nests?|kav(?:itäten)?|cavidad(?:es)?|"
    r"up|imp(?:ressions?)?|x)?\.?"
)


T = TypeVar("T")


class _Stop(Exception):  # no error: a cell that keeps its row from being taken
    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.reason)
        self.problem = problem


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldFacts:
    """Reads what the cells of a row say, as decided for the whole table."""

    gathered: Gathered
    numbers: dict[str, NumberDecision]
    days: Days
    units_of: dict[int, str]

    def of(self, row: Row) -> tuple[dict[str, Any], tuple[str, ...], Problem | None]:
        """Return the facts that a row names, notes on them, and the first thing in the way."""
        facts: dict[str, Any] = {}
        notes: list[str] = []
        problem: Problem | None = None
        for read in (
            *(self._texts, self._class, self._cavities, self._masses, self._cycle_time),
            *(self._resin, self._circuits, self._opening),
        ):
            try:
                read(row, facts, notes)
            except _Stop as stop:
                problem = problem or stop.problem
        return facts, tuple(notes), problem

    def _column(self, meaning: Meaning) -> Column | None:
        return self.gathered.head.of(meaning)

    def _texts(self, row: Row, facts: dict[str, Any], _notes: list[str]) -> None:
        for meaning, (name, at_most) in TEXTS.items():
            text = _or_stop(words_in(row, self._column(meaning), at_most=at_most))
            if text:
                facts[name] = text

    def _class(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        text = text_of(row, self._column(Meaning.MOLD_CLASS))
        if not text:
            return
        found = _CLASS.fullmatch(text.casefold())
        if found is None:
            raise _Stop(
                refused(_("“%(text)s” is no class of a mold: 101 to 105.") % {"text": text})
            )
        facts["mold_class"] = found[1]
        if text != found[1]:
            notes.append(_("The class %(text)s is %(value)s.") % {"text": text, "value": found[1]})

    def _cavities(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        column = self._column(Meaning.CAVITY_COUNT)
        if column is None:
            return
        digits, shown, _is_held = _or_stop(number_text(row, column))
        if not shown:
            return
        bare = _FAMILY.sub("", digits.casefold())
        if found := _PRODUCT.fullmatch(bare):
            count = int(found[1]) * int(found[2])
        elif _SUM.fullmatch(bare):
            count = sum(int(part) for part in bare.split("+"))
        elif found := _CAVITIES.fullmatch(bare):
            count = int(found[1])
        else:
            raise _Stop(refused(_("“%(text)s” is no number of cavities.") % {"text": shown}))
        if not 1 <= count <= CAVITIES_AT_MOST:
            raise _Stop(refused(_("“%(text)s” is no number of cavities.") % {"text": shown}))
        facts["cavity_count"] = count
        if not bare.isdigit():
            notes.append(_("%(text)s is %(count)d cavities.") % {"text": shown, "count": count})

    def _masses(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        found: dict[Meaning, Masses] = {}
        for meaning in (Meaning.MASS_A, Meaning.MASS_B, Meaning.MASS):
            column = self._column(meaning)
            if column is None:
                continue
            found[meaning], note = _or_stop(
                masses_in(
                    row,
                    column,
                    decision=self.numbers[number_key(column)],
                    unit=self.units_of[column.place],
                )
            )
            notes += [note] if note else []
        both = self._of_half(found.get(Meaning.MASS, Masses()), half=self._half(row))
        halves = {"a": both.a, "b": both.b}
        for meaning, half in ((Meaning.MASS_A, "a"), (Meaning.MASS_B, "b")):
            masses = found.get(meaning, Masses())
            if masses.a is not None:
                raise _Stop(
                    refused(_("This row names two masses where the mass of one half belongs."))
                )
            own = masses.both
            if own is not None and halves[half] not in (None, own):
                raise _Stop(refused(_("This row names two masses of the same half.")))
            halves[half] = own if own is not None else halves[half]
        facts |= {f"mass_{half}_kg": mass for half, mass in halves.items() if mass is not None}
        if both.both is not None:
            self._with_total(both.both, halves=halves, facts=facts, notes=notes)

    def _half(self, row: Row) -> str:
        """Return the half that a row is about; empty where it is about both."""
        text = text_of(row, self._column(Meaning.HALF))
        half = half_in(text) if text else BOTH
        if half is None:
            raise _Stop(
                refused(_("“%(text)s” is no half of a mold: fixed or moving.") % {"text": text})
            )
        return "" if half == BOTH else half

    def _of_half(self, masses: Masses, *, half: str) -> Masses:
        """Return the mass of a row that is about one half as that half's."""
        if not half or (masses.both is None and masses.a is None):
            return masses
        if masses.both is None:
            raise _Stop(refused(_("This row names two masses where that of one half belongs.")))
        return Masses(a=masses.both) if half == A else Masses(b=masses.both)

    def _with_total(
        self,
        total: Decimal,
        *,
        halves: dict[str, Decimal | None],
        facts: dict[str, Any],
        notes: list[str],
    ) -> None:
        known = [mass for mass in halves.values() if mass is not None]
        if not known:
            facts["mass_kg"] = total
            notes.append(
                _("%(mass)s kg is the mass of both halves together; the halves are not known.")
                % {"mass": total}
            )
            return
        if len(known) == 2 and sum(known) != total:
            notes.append(
                _("The halves add up to %(sum)s kg, the file says %(mass)s kg.")
                % {"sum": sum(known), "mass": total}
            )
        if len(known) == 1:
            if total <= known[0]:
                raise _Stop(refused(_("The mold weighs less here than one of its halves.")))
            other = "a" if halves["a"] is None else "b"
            facts[f"mass_{other}_kg"] = total - known[0]
            notes.append(
                _("The other half is the rest of %(mass)s kg: %(rest)s kg.")
                % {"mass": total, "rest": total - known[0]}
            )

    def _cycle_time(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        column = self._column(Meaning.CYCLE_TIME)
        if column is None:
            return
        seconds, note = _or_stop(
            seconds_in(
                row,
                column,
                decision=self.numbers[number_key(column)],
                unit=self.units_of[column.place],
            )
        )
        if seconds is not None:
            facts["cycle_time_s"] = seconds
            notes += [note] if note else []

    def _resin(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        texts = [
            text
            for column in self.gathered.head.all_of(Meaning.RESIN)
            if (text := _or_stop(words_in(row, column, at_most=RESIN_AT_MOST)))
        ]
        resin = ", ".join(dict.fromkeys(texts))
        if len(resin) > RESIN_AT_MOST:
            raise _Stop(refused(_("The resins of this row are too long a text.")))
        if resin:
            facts["resin"] = resin
        group = _or_stop(words_in(row, self._column(Meaning.RESIN_GROUP), at_most=RESIN_AT_MOST))
        filler = _or_stop(words_in(row, self._column(Meaning.FILLER), at_most=RESIN_AT_MOST))
        known_group, known_filler = resin_group_of(group), filler_of(filler)
        if group and not known_group:
            raise _Stop(
                refused(
                    _("“%(text)s” is no resin group: mild, medium, gassy or corrosive.")
                    % {"text": group}
                )
            )
        if filler and not known_filler:
            raise _Stop(refused(_("“%(text)s” is no filler: none or glass.") % {"text": filler}))
        facts |= {
            key: value
            for key, value in (
                ("resin_group", known_group or resin_group_of(resin)),
                ("filler", known_filler or filler_of(resin)),
            )
            if value
        }
        taken = [
            value
            for value, own in (
                (facts.get("resin_group"), known_group),
                (facts.get("filler"), known_filler),
            )
            if value and not own
        ]
        if resin and taken:
            notes.append(
                _("By its resin %(resin)s: %(taken)s.")
                % {"resin": resin, "taken": ", ".join(map(_words_for, taken))}
            )

    def _circuits(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        circuits, said = _or_stop(
            circuits_in(
                row,
                head=self.gathered.head,
                numbers=self.numbers,
                units_of=self.units_of,
                half=self._half(row).upper(),
            )
        )
        notes += said
        if circuits:
            facts["circuits"] = circuits

    def _opening(self, row: Row, facts: dict[str, Any], notes: list[str]) -> None:
        column = self._column(Meaning.OPENING_COUNT)
        if column is not None:
            count, note = _or_stop(count_in(row, column, decision=self.numbers[number_key(column)]))
            if count is not None:
                facts["opening_count"] = count
                notes += [note] if note else []
        column = self._column(Meaning.OPENING_AT)
        if column is not None:
            on: date | None = _or_stop(self.days.inside(row, column))
            if on is not None:
                facts["opening_at"] = on


def number_key(column: Column) -> str:
    """Give the key under which a column's numbers are decided: all masses together."""
    return "masses" if column.meaning in MASSES else column.key


def unit_of_column(column: Column) -> str | None:
    """Give the unit that the heading of a column of masses, lengths or times names."""
    if column.meaning in MASSES:
        return units.mass_unit_in(column.name)
    if column.meaning in MEASURES:
        return units.length_unit_in(column.name)
    return units.time_unit_in(column.name)


def unit_of_titles(column: Column, *, titles: Sequence[str]) -> str | None:
    """Give the unit that the titles above the heading name for a column."""
    if column.meaning in MASSES:
        return units.mass_unit_told(titles)
    if column.meaning in MEASURES:
        return units.length_unit_told(titles)
    return units.time_unit_told(titles)


def _words_for(value: str) -> str:
    return {
        "mild": _("unfilled PE, PP, PS"),
        "medium": _("ABS, PC, PA"),
        "gassy": _("POM, gassy or rich in regrind"),
        "corrosive": _("flame retardant or PVC"),
        "none": _("no filler"),
        "glass": _("glass or mineral"),
    }[value]


def _or_stop(found: T | Problem) -> T:
    """Pass on what was read; a problem ends the reading of this fact."""
    if isinstance(found, Problem):
        raise _Stop(found)
    return found
