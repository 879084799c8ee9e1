"""Numbers as people and programs write them, decided once for a whole column.

Which sign parts thousands and which decimals is never read from one value alone: ``12.400`` is
twelve thousand four hundred in one column and twelve and four tenths in another. All values of a
column are looked at, and where both would do, or neither, it is asked.
"""

import re
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.text import clean

#: Blanks of every width and the apostrophes that the Swiss use, always thousands.
_SPACED: Final = re.compile(r"-?[0-9]{1,3}(?:['’ʼ`´\s][0-9]{3})+(?:[.,][0-9]+)?")
_SPACES: Final = re.compile(r"['’ʼ`´\s]")
_PLAIN: Final = re.compile(r"-?[0-9]+")
_WITH_SIGNS: Final = re.compile(r"-?[0-9]+(?:[.,][0-9]+)+")
_GROUPED: Final = {
    ".": re.compile(r"-?[1-9][0-9]{0,2}(?:\.[0-9]{3})+"),
    ",": re.compile(r"-?[1-9][0-9]{0,2}(?:,[0-9]{3})+"),
}
_THOUSANDS: Final = re.compile(r"[1-9][0-9]{0,2}(?:(?:\.[0-9]{3})+|(?:,[0-9]{3})+)")
_ESTIMATED: Final = re.compile(
    r"(?:circa|ca|approximately|approx|about|around|estimated|est|etwa|rund|ungefähr|geschätzt|"
    r"gesch|aproximadamente|aprox|unos|[~≈])\.?\s*",
    re.IGNORECASE,
)
_MINUS: Final = str.maketrans({"−": "-", "–": "-"})
#: More digits than any counter has; 10^18 is the most a counter's value may take here.
DIGITS_AT_MOST: Final = 18
SHAPES_AT_MOST: Final = 10_000
_ANY_DIGIT: Final = str.maketrans("123456789", "000000000")


class Signs(StrEnum):
    """What the points and commas of a column mean.

    `THOUSANDS`: every point or comma parts thousands. `DECIMAL`: every one parts decimals.
    `COMMA_DECIMAL` and `POINT_DECIMAL`: that one parts decimals, the other thousands.
    """

    THOUSANDS = "thousands"
    DECIMAL = "decimal"
    COMMA_DECIMAL = "comma_decimal"
    POINT_DECIMAL = "point_decimal"


@dataclass(slots=True)
class NumberEvidence:
    """What the values of one column say about its signs, with the first row for each.

    `grouped`: values such as 12.400, which may be either. `decimal`: values in which the sign can
    only part decimals, such as 12.4. `thousands`: values in which it can only part thousands, such
    as 1.234.567. Each by sign. `has_only_zeros` is True while all of `grouped` end in 000.
    """

    grouped: dict[str, tuple[int, str]] = field(default_factory=dict)
    decimal: dict[str, tuple[int, str]] = field(default_factory=dict)
    thousands: dict[str, tuple[int, str]] = field(default_factory=dict)
    has_only_zeros: bool = True
    shapes: set[tuple[str, bool, bool]] = field(default_factory=set)

    def add(self, text: str, *, row: int) -> None:
        """Take one value into account; plain digits and what is no number say nothing."""
        if not text or text.isdigit():
            return
        # What a value says depends on its signs, not on its digits.
        shape = (text.translate(_ANY_DIGIT), text[0] == "0", text.endswith("000"))
        if shape in self.shapes:
            return
        if len(self.shapes) < SHAPES_AT_MOST:
            self.shapes.add(shape)
        bare = _bare(estimate_or_not(text)[0])
        if not _WITH_SIGNS.fullmatch(bare):
            return
        found = (row, text)
        points, commas = bare.count("."), bare.count(",")
        if points and commas:
            last = max(".", ",", key=bare.rfind)
            if bare.count(last) == 1:
                other = "," if last == "." else "."
                if _GROUPED[other].fullmatch(bare.partition(last)[0]):
                    self.decimal.setdefault(last, found)
                    self.thousands.setdefault(other, found)
            return
        sign = "." if points else ","
        if not _GROUPED[sign].fullmatch(bare):
            if points + commas == 1:
                self.decimal.setdefault(sign, found)
        elif points + commas > 1:
            self.thousands.setdefault(sign, found)
        else:
            self.grouped.setdefault(sign, found)
            self.has_only_zeros = self.has_only_zeros and bare.endswith("000")


@dataclass(frozen=True, kw_only=True, slots=True)
class NumberDecision:
    """How a column's numbers are read.

    Parameters
    ----------
    signs : Signs or None
        None where the question is open: values with points or commas then wait.
    reason : str
        Why, for the preview; empty where no value has a sign.
    question : Question or None
        What to ask.
    """

    signs: Signs | None
    reason: str = ""
    question: Question | None = None

    def whole(self, text: str) -> int | None:
        """Read a plain whole number by a short way; None sends it the long way."""
        if text.isascii() and len(text) <= DIGITS_AT_MOST:
            if text.isdigit():
                return int(text)
            if self.signs is Signs.THOUSANDS and _THOUSANDS.fullmatch(text):
                return int(text.replace(".", "").replace(",", ""))
        return None


def decide_numbers(
    evidence: NumberEvidence,
    *,
    is_whole: bool,
    key: str,
    column: str,
    answer: str | None = None,
    takes_thousands: bool = False,
) -> NumberDecision:
    """Decide how all numbers of a column are read.

    Parameters
    ----------
    evidence : NumberEvidence
        From all its values.
    is_whole : bool
        True where only whole numbers make sense, as for readings: then 12.400 beside 9.980 can
        only be thousands.
    key : str
        The key of the question, if one is needed.
    column : str
        The column's name, for sentences.
    answer : str or None
        What a person said: one of `Signs`.
    takes_thousands : bool
        True where 50.000 beside 100.000 is taken for thousands, shown and changeable: an interval
        is a round number, and none is of fifty cycles.

    Returns
    -------
    NumberDecision
    """
    if answer in set(Signs):
        return NumberDecision(signs=Signs(answer), reason=_("as answered"))
    grouped, decimal, thousands = evidence.grouped, evidence.decimal, evidence.thousands
    signs = {*grouped, *decimal, *thousands}
    if not signs:
        return NumberDecision(signs=Signs.THOUSANDS)
    possible = []
    if len(signs) == 1 and not decimal:
        possible.append(Signs.THOUSANDS)
    if len(signs) == 1 and not thousands and (not is_whole or _may_be_whole(evidence)):
        possible.append(Signs.DECIMAL)
    if len(signs) == 2 and (decimal or thousands or not is_whole):
        for sign, style in ((",", Signs.COMMA_DECIMAL), (".", Signs.POINT_DECIMAL)):
            other = "." if sign == "," else ","
            if sign not in thousands and other not in decimal:
                is_split = is_whole and sign in grouped and not evidence.has_only_zeros
                if not is_split:
                    possible.append(style)
    if len(possible) == 1:
        return NumberDecision(signs=possible[0], reason=_reason(possible[0], evidence))
    question = _question(evidence, key=key, column=column, possible=possible)
    if takes_thousands and possible == [Signs.THOUSANDS, Signs.DECIMAL]:
        return NumberDecision(
            signs=Signs.THOUSANDS,
            reason=_reason(Signs.THOUSANDS, evidence),
            question=replace(question, assumed=Signs.THOUSANDS),
        )
    return NumberDecision(signs=None, question=question)


def read_whole(text: str, *, signs: Signs | None) -> int | str:
    """Read a whole number, or give the sentence that says why it is none.

    Parameters
    ----------
    text : str
        As the cell shows it, estimate marks gone.
    signs : Signs or None
        From `decide_numbers`; None where that waits for an answer.

    Examples
    --------
    >>> read_whole("12.400", signs=Signs.THOUSANDS), read_whole("12450.0", signs=Signs.DECIMAL)
    (12400, 12450)
    >>> read_whole("1.217.40", signs=Signs.THOUSANDS)
    '“1.217.40” is not a number: behind each point or comma come three digits.'
    """
    if text.isascii() and text.isdigit():
        return int(text) if len(text) <= DIGITS_AT_MOST else _too_long(text)
    value = read_decimal(text, signs=signs)
    if isinstance(value, str):
        return value
    if value < 0:
        return _("“%(text)s” is below zero; a counter never is.") % {"text": text}
    if value != value.to_integral_value():
        return _("“%(text)s” is not a whole number.") % {"text": text}
    return int(value)


def read_decimal(text: str, *, signs: Signs | None) -> Decimal | str:
    """Read a number that may have decimals, or give the sentence that says why it is none.

    Examples
    --------
    >>> read_decimal("4,25", signs=Signs.DECIMAL), read_decimal("-5", signs=Signs.DECIMAL)
    (Decimal('4.25'), Decimal('-5'))
    """
    bare = _bare(text)
    if sum(sign.isdigit() for sign in bare) > DIGITS_AT_MOST:
        return _too_long(text)
    if _PLAIN.fullmatch(bare):
        return Decimal(bare)
    if not _WITH_SIGNS.fullmatch(bare):
        return _("“%(text)s” is not a number.") % {"text": text}
    if signs is None:
        return _("“%(text)s” waits for what points and commas mean here.") % {"text": text}
    decimal_sign = {
        Signs.THOUSANDS: "",
        Signs.DECIMAL: "," if "," in bare else ".",
        Signs.COMMA_DECIMAL: ",",
        Signs.POINT_DECIMAL: ".",
    }[signs]
    if decimal_sign and bare.count(decimal_sign) > 1:
        return _("“%(text)s” is not a number: it has two decimal signs.") % {"text": text}
    whole, _sign, decimals = bare.partition(decimal_sign) if decimal_sign else (bare, "", "")
    grouped = whole.count(".") + whole.count(",")
    if "." in decimals or "," in decimals:
        return _("“%(text)s” is not a number: thousands stand behind decimals.") % {"text": text}
    if grouped and not (_GROUPED["."].fullmatch(whole) or _GROUPED[","].fullmatch(whole)):
        return _("“%(text)s” is not a number: behind each point or comma come three digits.") % {
            "text": text
        }
    digits = whole.replace(".", "").replace(",", "")
    return Decimal(f"{digits}.{decimals}" if decimals else digits)


def has_signs(text: str) -> bool:
    """Tell numbers whose points or commas need the column's decision."""
    return _WITH_SIGNS.fullmatch(_bare(text)) is not None


def estimate_or_not(text: str) -> tuple[str, bool]:
    """Give the number without its "about", and whether there was one.

    Examples
    --------
    >>> estimate_or_not("ca. 313000"), estimate_or_not("~313000"), estimate_or_not("313000")
    (('313000', True), ('313000', True), ('313000', False))
    """
    found = _ESTIMATED.match(text)
    if found is None or not text[found.end() :][:1].isdigit():
        return text, False
    return text[found.end() :], True


def _bare(text: str) -> str:
    """Digits, minus, points and commas; blanks and apostrophes between thousands gone."""
    text = clean(text).translate(_MINUS)
    if text.isascii() and text.isdigit():
        return text
    return _SPACES.sub("", text) if _SPACED.fullmatch(text) else text


def _may_be_whole(evidence: NumberEvidence) -> bool:
    return not evidence.grouped or evidence.has_only_zeros


def _too_long(text: str) -> str:
    return _("“%(text)s” has more digits than any counter.") % {"text": text}


def _reason(signs: Signs, evidence: NumberEvidence) -> str:
    found = {**evidence.grouped, **evidence.decimal, **evidence.thousands}
    _row, text = min(found.values())
    value = read_decimal(estimate_or_not(text)[0], signs=signs)
    return _("“%(text)s” is read as %(value)s") % {"text": text, "value": value}


def _question(
    evidence: NumberEvidence, *, key: str, column: str, possible: list[Signs]
) -> Question:
    examples = sorted({*evidence.grouped.values(), *evidence.decimal.values()})
    if not possible:
        possible = [Signs.THOUSANDS]
        signs = {*evidence.grouped, *evidence.decimal, *evidence.thousands}
        possible += [Signs.DECIMAL] if len(signs) == 1 else []
        possible += [Signs.COMMA_DECIMAL, Signs.POINT_DECIMAL] if len(signs) == 2 else []
    shown = ", ".join(
        _("“%(text)s” in row %(row)d") % {"text": text, "row": row} for row, text in examples[:3]
    )
    return Question(
        key=key,
        text=_("What do points and commas mean in “%(column)s”: %(examples)s?")
        % {"column": column, "examples": shown},
        choices=tuple(
            Choice(value=style, text=_readings_of(examples, signs=style)) for style in possible
        ),
    )


def _readings_of(examples: list[tuple[int, str]], *, signs: Signs) -> str:
    parts = []
    for _row, text in examples[:3]:
        value = read_decimal(estimate_or_not(text)[0], signs=signs)
        refused = _("refused") if isinstance(value, str) else format(value.normalize(), "f")
        parts.append(f"{text} = {refused}")
    return ", ".join(parts)
