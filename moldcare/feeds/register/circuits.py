"""The circuits that a row of a mold register names, with their bore and length."""

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.cells import millimeters_in
from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.head import Head
from moldcare.feeds.register.rows import CircuitRow
from moldcare.feeds.tables import Column, Meaning, Problem, Row
from moldcare.feeds.tables.numbers import NumberDecision
from moldcare.feeds.tables.problems import refused, too_long
from moldcare.work.numbers import plain_decimal

CIRCUIT_AT_MOST: Final = 40
CIRCUITS_AT_MOST: Final = 60
CIRCUITS_TEXT_AT_MOST: Final = 1000
#: The step and the most in mm that a circuit's record keeps.
BORE: Final = Decimal("0.00001"), Decimal("9999.99999")
LENGTH: Final = Decimal("0.001"), Decimal("9999999.999")
_BETWEEN_CIRCUITS: Final = re.compile(r"\s*(?:[,;/|\n]|\s\+\s)\s*")


def circuits_in(
    row: Row,
    *,
    head: Head,
    numbers: Mapping[str, NumberDecision],
    units_of: Mapping[int, str],
    half: str = "",
) -> tuple[tuple[CircuitRow, ...], list[str]] | Problem:
    """Read the circuits of one row, with notes; a bore or a length is that of all of them.

    `half` is "A" or "B" where the row is about one half: a circuit that has a number alone, which
    the other half may have as well, is named by both.
    """
    notes: list[str] = []
    names: dict[str, None] = {}
    for column in head.all_of(Meaning.CIRCUITS):
        found = _names_in(row, column, notes=notes)
        if isinstance(found, Problem):
            return found
        names |= dict.fromkeys(found)
    if len(names) > CIRCUITS_AT_MOST:
        return refused(_("This row names more circuits than a mold has."))
    measures: dict[Meaning, Decimal | None] = {}
    for meaning, (step, most) in ((Meaning.BORE, BORE), (Meaning.LENGTH, LENGTH)):
        measured = head.of(meaning)
        if measured is None:
            continue
        read = millimeters_in(
            row,
            measured,
            decision=numbers[measured.key],
            unit=units_of[measured.place],
            step=step,
            most=most,
        )
        if isinstance(read, Problem):
            return read
        measures[meaning], note = read
        notes += [note] if note else []
        if read[0] is not None and not names:
            return refused(
                _("“%(column)s” is given here, and no circuit that has it. Name the circuit.")
                % {"column": measured.name}
            )
    numbered = [name for name in names if half and name.isdigit()]
    if numbered:
        names = {f"{half}{name}" if name.isdigit() else name: None for name in names}
        notes.append(
            _("Circuits of the %(half)s half: %(names)s.")
            % {"half": half, "names": ", ".join(f"{half}{name}" for name in numbered)}
        )
    bore, length = measures.get(Meaning.BORE), measures.get(Meaning.LENGTH)
    circuits = tuple(
        CircuitRow(ident=name, half=half, bore_mm=bore, length_mm=length) for name in names
    )
    return circuits, notes


def put_together(
    known: Iterable[CircuitRow], *, more: Iterable[CircuitRow]
) -> tuple[CircuitRow, ...] | str:
    """Put circuits of a further row to those before; a text says where the two contradict."""
    circuits = {circuit.ident: circuit for circuit in known}
    for circuit in more:
        before = circuits.get(circuit.ident, circuit)
        if before.half and circuit.half and before.half != circuit.half:
            return _("Both halves have a circuit %(circuit)s. Give each a name of its own.") % {
                "circuit": circuit.ident
            }
        for one, other in (
            (before.bore_mm, circuit.bore_mm),
            (before.length_mm, circuit.length_mm),
        ):
            if one is not None and other is not None and one != other:
                return _("Circuit %(circuit)s is given with %(one)s mm and with %(other)s mm.") % {
                    "circuit": circuit.ident,
                    "one": plain_decimal(one),
                    "other": plain_decimal(other),
                }
        circuits[circuit.ident] = CircuitRow(
            ident=circuit.ident,
            half=before.half or circuit.half,
            bore_mm=circuit.bore_mm if before.bore_mm is None else before.bore_mm,
            length_mm=circuit.length_mm if before.length_mm is None else before.length_mm,
        )
    return tuple(circuits.values())


def is_counted(column: Column) -> bool:
    """Say whether a column of circuits is headed as their number."""
    name = column.name.casefold()
    return any(word in name for word in ("number", "anzahl", "count", "número", "numero", "qty"))


def _names_in(row: Row, column: Column, *, notes: list[str]) -> list[str] | Problem:
    """Give the names in a cell with its line ends, or the numbers up to theirs."""
    text = text_of(row, column).replace("\r\n", "\n").replace("\r", "\n")
    if len(text) > CIRCUITS_TEXT_AT_MOST:
        return too_long(column.name)
    if is_counted(column) and text.isdigit() and 1 <= int(text) <= CIRCUITS_AT_MOST:
        notes.append(_("%(count)d circuits, named by their numbers.") % {"count": int(text)})
        return [str(number + 1) for number in range(int(text))]
    names = [" ".join(name.split()) for name in _BETWEEN_CIRCUITS.split(text) if name]
    for name in names:
        if len(name) > CIRCUIT_AT_MOST:
            return refused(_("“%(text)s” is too long for a circuit.") % {"text": name})
    return names
