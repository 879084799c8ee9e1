"""Numbers and dates on paper, as the plant writes them and not as its reader's screen does."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

NO_BREAK = "\u00a0"


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """How a language writes numbers and dates."""

    decimal_sign: str
    group_sign: str
    digits_before_grouping: int
    date_pattern: str
    month_pattern: str
    months: tuple[str, ...]
    months_short: tuple[str, ...]
    weekdays_short: tuple[str, ...]


_ENGLISH = Manner(
    decimal_sign=".",
    group_sign=",",
    digits_before_grouping=4,
    date_pattern="{day} {month_short} {year}",
    month_pattern="{month} {year}",
    months=(
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ),
    months_short=(
        "Jan",
        "Feb",
        "Mar",
        "Apr",
        "May",
        "Jun",
        "Jul",
        "Aug",
        "Sep",
        "Oct",
        "Nov",
        "Dec",
    ),
    weekdays_short=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
)
_GERMAN = Manner(
    decimal_sign=",",
    group_sign=".",
    digits_before_grouping=4,
    date_pattern="{day:02d}.{month_number:02d}.{year}",
    month_pattern="{month} {year}",
    months=(
        "Januar",
        "Februar",
        "März",
        "April",
        "Mai",
        "Juni",
        "Juli",
        "August",
        "September",
        "Oktober",
        "November",
        "Dezember",
    ),
    months_short=(
        "Jan.",
        "Feb.",
        "März",
        "Apr.",
        "Mai",
        "Juni",
        "Juli",
        "Aug.",
        "Sept.",
        "Okt.",
        "Nov.",
        "Dez.",
    ),
    weekdays_short=("Mo", "Di", "Mi", "Do", "Fr", "Sa", "So"),
)
# Spanish groups by a blank and leaves four digits whole (orthography of the Real Academia; from
# memory).
_SPANISH = Manner(
    decimal_sign=",",
    group_sign=NO_BREAK,
    digits_before_grouping=5,
    date_pattern="{day} {month_short} {year}",
    month_pattern="{month} de {year}",
    months=(
        "enero",
        "febrero",
        "marzo",
        "abril",
        "mayo",
        "junio",
        "julio",
        "agosto",
        "septiembre",
        "octubre",
        "noviembre",
        "diciembre",
    ),
    months_short=(
        "ene",
        "feb",
        "mar",
        "abr",
        "may",
        "jun",
        "jul",
        "ago",
        "sept",
        "oct",
        "nov",
        "dic",
    ),
    weekdays_short=("lun", "mar", "mié", "jue", "vie", "sáb", "dom"),
)
_MANNERS = {"en": _ENGLISH, "de": _GERMAN, "es": _SPANISH}


def manner(locale: str) -> Manner:
    """Give the manner of a locale such as ``de`` or ``de-AT``; an unknown one writes English."""
    return _MANNERS.get(locale.replace("_", "-").split("-")[0].lower(), _ENGLISH)


def whole_number(value: int, *, locale: str) -> str:
    """Write a count: 12,400 or 12.400."""
    return decimal_number(Decimal(value), locale=locale)


def decimal_number(value: Decimal, *, locale: str, places: int | None = None) -> str:
    """Write a decimal with all its places, or rounded half to even to some."""
    how = manner(locale)
    spelled = f"{value:.{places}f}" if places is not None else f"{value:f}"
    sign = "\u2212" if spelled.startswith("-") else ""
    whole, _, fraction = spelled.lstrip("-").partition(".")
    if len(whole) >= how.digits_before_grouping:
        whole = f"{int(whole):,}".replace(",", how.group_sign)
    return f"{sign}{whole}{how.decimal_sign}{fraction}" if fraction else sign + whole


def quantity(value: Decimal | int, *, unit: str, locale: str) -> str:
    """Write a number and its unit so that no line breaks between them."""
    number = decimal_number(Decimal(value), locale=locale)
    return f"{number}{NO_BREAK}{unit}" if unit else number


def date_text(day: date, *, locale: str) -> str:
    """Write a date that nobody reads as another one: 3 Nov 2026, 03.11.2026."""
    how = manner(locale)
    written = how.date_pattern.format(
        day=day.day,
        month_number=day.month,
        month_short=how.months_short[day.month - 1],
        year=day.year,
    )
    return written.replace(" ", NO_BREAK)


def weekday_text(day: date, *, locale: str) -> str:
    """Write the short name of a weekday."""
    return manner(locale).weekdays_short[day.weekday()]


def month_text(month: date, *, locale: str) -> str:
    """Write a month: November 2026."""
    how = manner(locale)
    return how.month_pattern.format(month=how.months[month.month - 1], year=month.year)


def time_text(local: datetime) -> str:
    """Write a time of day by 24 hours, as shifts are."""
    return f"{local:%H:%M}"


def moment_text(local: datetime, *, locale: str) -> str:
    """Write a local instant to the minute."""
    return f"{date_text(local, locale=locale)}, {time_text(local)}"
