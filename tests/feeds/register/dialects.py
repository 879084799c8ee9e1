"""Random plants, and the many ways in which people would write them down."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import openpyxl
from hypothesis import strategies as st

from moldcare.feeds.register.spellings import bare_number
from tests.feeds.register.reading import circuits

POUND = Decimal("0.45359237")

MOLD_HEADINGS: dict[str, dict[str, str]] = {
    "en": {
        "number": "Mold",
        "name": "Name",
        "mold_class": "Class",
        "cavity_count": "Cavities",
        "mass_a_kg": "Mass A half",
        "mass_b_kg": "Mass B half",
        "owner": "Owner",
        "resin": "Resin",
        "finish": "Finish",
        "cycle_time_s": "Cycle time",
        "storage_place": "Storage place",
        "circuits": "Circuits",
        "opening_count": "Life count",
        "opening_at": "As of",
        "drawing_revision": "Revision",
    },
    "de": {
        "number": "Werkzeug-Nr.",
        "name": "Bezeichnung",
        "mold_class": "Klasse",
        "cavity_count": "Fachzahl",
        "mass_a_kg": "Gewicht FS",
        "mass_b_kg": "Gewicht BS",
        "owner": "Eigentümer",
        "resin": "Werkstoff",
        "finish": "Oberfläche",
        "cycle_time_s": "Zykluszeit",
        "storage_place": "Lagerplatz",
        "circuits": "Kühlkreise",
        "opening_count": "Schusszahl",
        "opening_at": "Stand vom",
        "drawing_revision": "Index",
    },
    "es": {
        "number": "N.º de molde",
        "name": "Denominación",
        "mold_class": "Clase",
        "cavity_count": "Cavidades",
        "mass_a_kg": "Peso lado fijo",
        "mass_b_kg": "Peso lado móvil",
        "owner": "Propietario",
        "resin": "Resina",
        "finish": "Acabado",
        "cycle_time_s": "Tiempo de ciclo",
        "storage_place": "Ubicación",
        "circuits": "Circuitos",
        "opening_count": "Ciclos",
        "opening_at": "Fecha",
        "drawing_revision": "Revisión",
    },
}
CARE_HEADINGS: dict[str, dict[str, str]] = {
    "en": {
        "number": "Mold",
        "task": "Task",
        "interval": "Interval",
        "count_interval": "Interval shots",
        "period": "Interval calendar",
        "last_done": "Last done",
        "last_count": "Last count",
    },
    "de": {
        "number": "Werkzeug",
        "task": "Tätigkeit",
        "interval": "Intervall",
        "count_interval": "Intervall Schuss",
        "period": "Intervall Zeit",
        "last_done": "Zuletzt am",
        "last_count": "Zuletzt bei",
    },
    "es": {
        "number": "Molde",
        "task": "Tarea",
        "interval": "Intervalo",
        "count_interval": "Intervalo disparos",
        "period": "Intervalo tiempo",
        "last_done": "Última vez",
        "last_count": "Último contador",
    },
}
TASKS = {
    "en": ["Vents", "Grease guides", "Descale circuits", "Leak test", "Springs", "Polish look"],
    "de": ["Entlüftung", "Führungen fetten", "Kühlkreise entkalken", "Auswerfer", "Federn"],
    "es": ["Venteos", "Engrase de guías", "Prueba de fugas", "Muelles", "Correderas"],
}
SHOTS = {"en": "shots", "de": "Schuss", "es": "disparos"}
HOURS = {"en": "h", "de": "Std.", "es": "horas"}
EVENTS = {
    "en": {"end_of_run": "after each run", "set": "each set", "into_storage": "before storage"},
    "de": {
        "end_of_run": "nach jedem Lauf",
        "set": "bei jedem Rüsten",
        "into_storage": "bei Einlagerung",
    },
    "es": {
        "end_of_run": "tras cada corrida",
        "set": "cada montaje",
        "into_storage": "al almacenar",
    },
}
HALF = {"en": "Half", "de": "Werkzeughälfte", "es": "Lado"}
HALVES = {
    "en": ("fixed half", "moving half"),
    "de": ("Düsenseite", "Auswerferseite"),
    "es": ("fijo", "móvil"),
}
MASS = {"en": "Weight", "de": "Gewicht", "es": "Peso"}
EVERY = {"en": "every", "de": "alle", "es": "cada"}
OR = {"en": "or", "de": "oder", "es": "o"}
UNITS = {
    "en": {"day": "days", "week": "weeks", "month": "months", "year": "years"},
    "de": {"day": "Tage", "week": "Wochen", "month": "Monate", "year": "Jahre"},
    "es": {"day": "días", "week": "semanas", "month": "meses", "year": "años"},
}
NAMES = {
    "en": ["Cap, 24 mm", "Housing", "Lid; flat", "Lever", 'Ring "S"', "Tray / deep"],
    "de": ["Gehäuse", "Kappe für Düse", "Hülse, groß", "Schöpfer", "Träger", "Bügel"],
    "es": ["Tapón", "Señal", "Máquina, tapa", "Niño", "Conexión", "Botón"],
}
OWNERS = ["Nordhafen", "Weststadt", "Seeblick", None]
RESINS = ["PP", "ABS", "PA66-GF30", "POM", "PVC", None]


def numbers() -> st.SearchStrategy[list[str]]:
    """Numbers of molds as plants give them, no two of which may be the same mold."""
    one = st.one_of(
        st.integers(0, 9999).map(lambda number: f"{number:04d}"),
        st.integers(0, 999).map(lambda number: f"K-{number}"),
        st.integers(100, 99999).map(str),
        st.integers(0, 99).map(lambda number: f"F{number:02d}/A"),
    )
    return st.lists(one, min_size=1, max_size=6, unique_by=bare_number)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Give something, or nothing."""
    return st.one_of(st.none(), strategy)


def _tenths(count: int) -> Decimal:
    return Decimal(count) / 10


DAYS = st.dates(date(2019, 1, 1), date(2026, 11, 1))


@st.composite
def molds(draw: st.DrawFn, language: str) -> list[dict[str, Any]]:
    """Give a plant's molds by what a register says of them."""
    tenths = st.integers(100, 99_999).map(_tenths)
    return [
        {
            "number": number,
            "name": draw(st.sampled_from(NAMES[language])),
            "mold_class": draw(st.sampled_from(["101", "102", "103", "104", "105", None])),
            "cavity_count": draw(maybe(st.integers(1, 96))),
            "mass_a_kg": draw(maybe(tenths)),
            "mass_b_kg": draw(maybe(tenths)),
            "owner": draw(st.sampled_from(OWNERS)),
            "resin": draw(st.sampled_from(RESINS)),
            "finish": draw(st.sampled_from(["A-2", "VDI 27", "B-1", None])),
            "cycle_time_s": draw(
                maybe(st.integers(30, 900).map(lambda tenth: Decimal(tenth) / 10))
            ),
            "storage_place": draw(st.sampled_from(["B4-2", "C1-1", "Rack 7", None])),
            "circuits": draw(st.sampled_from([circuits("A1"), circuits("A1", "A2", "B1"), None])),
            "opening_count": draw(maybe(st.integers(0, 9_999_999))),
            "opening_at": draw(maybe(DAYS)),
            "drawing_revision": draw(st.sampled_from(["A", "C", None])),
        }
        for number in draw(numbers())
    ]


@st.composite
def rules(draw: st.DrawFn, language: str, *, form: str) -> list[dict[str, Any]]:
    """Give a plant's rules, each mold's tasks with an interval and perhaps a last time.

    Running hours and events need a column that holds intervals of any kind: not in form "two".
    """
    found = []
    for number in draw(numbers()):
        tasks = draw(
            st.lists(st.sampled_from(TASKS[language]), min_size=1, max_size=3, unique=True)
        )
        for task in tasks:
            count = draw(maybe(st.integers(2, 2000).map(lambda step: step * 500)))
            period = draw(st.tuples(st.integers(2, 36), st.sampled_from([*UNITS["en"]])))
            hours = draw(maybe(st.integers(1, 400).map(lambda step: step * 25)))
            event = draw(st.sampled_from(["", *EVENTS["en"]]))
            if form == "two":
                hours, event = None, ""
            has_period = not (count or hours or event) or draw(st.booleans())
            found.append(
                {
                    "number": number,
                    "task": task,
                    "count_interval": count,
                    "count_basis": "shots" if count else "cycles",
                    "period_n": period[0] if has_period else None,
                    "period_unit": period[1] if has_period else "",
                    "hours_limit": hours,
                    "event": event,
                    "last_done": draw(maybe(DAYS)),
                    "last_count": draw(maybe(st.integers(0, 9_999_999))),
                }
            )
    return found


@dataclass(frozen=True, kw_only=True, slots=True)
class Dialect:
    """One way of writing things down."""

    language: str
    is_workbook: bool
    holds_values: bool
    encoding: str
    separator: str
    thousands: str
    decimal: str
    dates: str
    nothing: str
    mass_unit: str
    unit_in_heading: bool
    titles: int

    def whole(self, value: int | None) -> str:
        """Write a whole number."""
        if value is None:
            return self.nothing
        return f"{value:,}".replace(",", self.thousands)

    def number(self, value: Decimal | None) -> str:
        """Write a number with decimals."""
        if value is None:
            return self.nothing
        whole, _point, decimals = f"{value:.1f}".partition(".")
        text = self.whole(int(whole))
        return text if decimals == "0" else f"{text}{self.decimal}{decimals}"

    def day(self, value: date | None) -> str:
        """Write a day."""
        return self.nothing if value is None else value.strftime(self.dates)


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    """Give a dialect in which a person might write."""
    language = draw(st.sampled_from(["en", "de", "es"]))
    decimal = draw(st.sampled_from(".,"))
    encodings = ["utf-8", "utf-8-sig", "utf-16", "cp1252", "cp850"]
    if language == "en":
        # without any letter beyond ASCII, old encodings are UTF-8
        encodings = encodings[:3]
    encoding = draw(st.sampled_from(encodings))
    nothing = ["", "-", "n/a", "k.A.", "?"]
    if language != "en" and encoding != "cp850":
        # code page 850 has no dash
        nothing.append("–")
    dates = ["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d %B %Y"]
    return Dialect(
        language=language,
        is_workbook=draw(st.booleans()),
        holds_values=draw(st.booleans()),
        encoding=encoding,
        separator=draw(st.sampled_from(";\t,|")),
        thousands=draw(st.sampled_from(["", "'", " ", "." if decimal == "," else ","])),
        decimal=decimal,
        dates=draw(st.sampled_from(dates)),
        nothing=draw(st.sampled_from(nothing)),
        mass_unit=draw(st.sampled_from(["kg", "lb"])),
        unit_in_heading=draw(st.booleans()),
        titles=draw(st.integers(0, 2)),
    )


def kg_of(pounds: Decimal) -> Decimal:
    """Give kilograms to a tenth."""
    return (pounds * POUND).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def written_molds(plant: Sequence[dict[str, Any]], dialect: Dialect) -> bytes:
    """Write a register."""
    names = MOLD_HEADINGS[dialect.language]
    unit = {"mass_a_kg": dialect.mass_unit, "mass_b_kg": dialect.mass_unit, "cycle_time_s": "s"}
    heading = [
        f"{name} [{unit[key]}]" if dialect.unit_in_heading and key in unit else name
        for key, name in names.items()
    ]
    rows = [[_mold_cell(mold[key], key, dialect, unit) for key in names] for mold in plant]
    title = [["Register", *[""] * 2], [""]][: dialect.titles]
    return written([*title, heading, *rows], dialect)


def written_halves(plant: Sequence[dict[str, Any]], dialect: Dialect) -> bytes:
    """Write a register with a row for each half: its mass and its circuits, and once the rest."""
    language = dialect.language
    names = {
        key: name
        for key, name in MOLD_HEADINGS[language].items()
        if key not in ("mass_a_kg", "mass_b_kg", "circuits")
    }
    unit = {"mass_a_kg": dialect.mass_unit, "cycle_time_s": "s"}
    mass = f"{MASS[language]} [{dialect.mass_unit}]" if dialect.unit_in_heading else MASS[language]
    heading = [names["number"], HALF[language], mass, MOLD_HEADINGS[language]["circuits"]]
    rest = [key for key in names if key != "number"]
    heading += [
        f"{names[key]} [s]" if dialect.unit_in_heading and key in unit else names[key]
        for key in rest
    ]
    rows = []
    for mold in plant:
        for half, word in zip("ab", HALVES[language], strict=True):
            circuits = tuple(
                circuit for circuit in mold["circuits"] or () if circuit.ident[0].lower() == half
            )
            rows.append(
                [
                    mold["number"],
                    word,
                    _mold_cell(mold[f"mass_{half}_kg"], "mass_a_kg", dialect, unit),
                    _mold_cell(circuits or None, "circuits", dialect, unit),
                    *(
                        _mold_cell(mold[key] if half == "a" else None, key, dialect, unit)
                        for key in rest
                    ),
                ]
            )
    title = [["Register", *[""] * 2], [""]][: dialect.titles]
    return written([*title, heading, *rows], dialect)


def _mold_cell(value: Any, key: str, dialect: Dialect, unit: dict[str, str]) -> Any:
    if value is None:
        return dialect.nothing
    is_held = dialect.is_workbook and dialect.holds_values
    if isinstance(value, date):
        return value if is_held else dialect.day(value)
    if isinstance(value, tuple):
        return ", ".join(circuit.ident for circuit in value)
    if key in unit:
        if is_held and dialect.unit_in_heading:
            return float(value)
        text = dialect.number(value)
        return text if dialect.unit_in_heading else f"{text} {unit[key]}"
    if isinstance(value, int):
        return value if is_held else dialect.whole(value) if key == "opening_count" else str(value)
    return value


def interval_text(rule: dict[str, Any], dialect: Dialect) -> str:
    """Write an interval in one cell."""
    language = dialect.language
    parts = []
    if rule["count_interval"] is not None:
        parts.append(f"{dialect.whole(rule['count_interval'])} {SHOTS[language]}")
    if rule["period_n"] is not None:
        parts.append(f"{rule['period_n']} {UNITS[language][rule['period_unit']]}")
    if rule["hours_limit"] is not None:
        parts.append(f"{dialect.whole(rule['hours_limit'])} {HOURS[language]}")
    if rule["event"]:
        parts.append(EVENTS[language][rule["event"]])
    return f" {OR[language]} ".join(parts)


def period_text(rule: dict[str, Any], dialect: Dialect) -> str:
    """Write the calendar part of an interval."""
    if rule["period_n"] is None:
        return dialect.nothing
    unit = UNITS[dialect.language][rule["period_unit"]]
    return f"{EVERY[dialect.language]} {rule['period_n']} {unit}"


def written_rules(plant: Sequence[dict[str, Any]], dialect: Dialect, *, form: str) -> bytes:
    """Write a maintenance sheet: "one", "two" columns for intervals, or columns a "task"."""
    names = CARE_HEADINGS[dialect.language]
    is_held = dialect.is_workbook and dialect.holds_values

    def last(rule: dict[str, Any]) -> list[Any]:
        if is_held:
            return [
                dialect.nothing if value is None else value
                for value in (rule["last_done"], rule["last_count"])
            ]
        return [dialect.day(rule["last_done"]), dialect.whole(rule["last_count"])]

    title = [["Maintenance", ""], [""]][: dialect.titles]
    if form == "task":
        return written([*title, *_by_task(plant, dialect, last=last)], dialect)
    keys = ["interval"] if form == "one" else ["count_interval", "period"]
    heading = [names[key] for key in ("number", "task", *keys, "last_done", "last_count")]
    rows = []
    for rule in plant:
        count = dialect.whole(rule["count_interval"])
        if is_held and rule["count_interval"] is not None:
            count = rule["count_interval"]
        intervals = (
            [interval_text(rule, dialect)] if form == "one" else [count, period_text(rule, dialect)]
        )
        rows.append([rule["number"], rule["task"], *intervals, *last(rule)])
    return written([*title, heading, *rows], dialect)


def _by_task(plant: Sequence[dict[str, Any]], dialect: Dialect, *, last: Any) -> list[list[Any]]:
    names = CARE_HEADINGS[dialect.language]
    tasks = list(dict.fromkeys(rule["task"] for rule in plant))
    upper, lower = [names["number"]], [""]
    for task in tasks:
        upper += [task, "", ""]
        lower += [names["interval"], names["last_done"], names["last_count"]]
    rows: dict[str, list[Any]] = {}
    for rule in plant:
        row = rows.setdefault(rule["number"], [rule["number"], *[""] * 3 * len(tasks)])
        at = 1 + 3 * tasks.index(rule["task"])
        row[at : at + 3] = [interval_text(rule, dialect), *last(rule)]
    return [upper, lower, *rows.values()]


def written(rows: Sequence[Sequence[Any]], dialect: Dialect) -> bytes:
    """Give the bytes of a file."""
    if dialect.is_workbook:
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append([_at_midnight(value) for value in row])
        content = io.BytesIO()
        book.save(content)
        return content.getvalue()
    text = io.StringIO()
    writer = csv.writer(text, delimiter=dialect.separator)
    writer.writerows([str(value) for value in row] for row in rows)
    return text.getvalue().encode(dialect.encoding)


def _at_midnight(value: Any) -> Any:
    return datetime.combine(value, time()) if type(value) is date else value
