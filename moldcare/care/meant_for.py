"""For which molds a rule set is meant, and whether a mold is one of them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, kw_only=True, slots=True)
class MeantFor:
    """What molds a set is meant for; an empty part asks for nothing.

    `equipment` is a key of `Equipment`: what some molds have and others do not.
    """

    mold_classes: tuple[str, ...] = ()
    resin_groups: tuple[str, ...] = ()
    fillers: tuple[str, ...] = ()
    finishes: tuple[str, ...] = ()
    equipment: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldTraits:
    """What a set may ask of a mold; `has_bubblers` is None where no circuit says so."""

    mold_class: str = ""
    resin_group: str = ""
    filler: str = ""
    finish: str = ""
    has_bubblers: bool | None = None


class Fit(StrEnum):
    """Whether a set is meant for a mold; ASK where what is known of the mold does not say."""

    FITS = "fits"
    ASK = "ask"
    DOES_NOT = "does_not"


def fit_of(meant_for: MeantFor, *, traits: MoldTraits) -> Fit:
    """Return whether a set is meant for a mold.

    Examples
    --------
    >>> mirror = MeantFor(finishes=("A-1", "A-2", "A-3"))
    >>> [str(fit_of(mirror, traits=MoldTraits(finish=text)))
    ...  for text in ("SPI A2 and B-1", "SPI B-1", "")]
    ['fits', 'does_not', 'ask']
    """
    answers = [
        _among(traits.mold_class, wanted=meant_for.mold_classes),
        _among(traits.resin_group, wanted=meant_for.resin_groups),
        _among(traits.filler, wanted=meant_for.fillers),
        _finish(traits.finish, wanted=meant_for.finishes),
        _equipment(meant_for.equipment, has_bubblers=traits.has_bubblers),
    ]
    for fit in (Fit.DOES_NOT, Fit.ASK):
        if fit in answers:
            return fit
    return Fit.FITS


def _among(value: str, *, wanted: tuple[str, ...]) -> Fit:
    if not wanted:
        return Fit.FITS
    if not value:
        return Fit.ASK
    return Fit.FITS if value in wanted else Fit.DOES_NOT


def _finish(text: str, *, wanted: tuple[str, ...]) -> Fit:
    if not wanted:
        return Fit.FITS
    if not text.strip():
        return Fit.ASK
    return Fit.FITS if grades_in(text) & set(wanted) else Fit.DOES_NOT


def grades_in(text: str) -> set[str]:
    """Return the grades that a text about a finish names, in one spelling.

    Examples
    --------
    >>> sorted(grades_in("SPI a2 / B-1, VDI 3400 27"))
    ['A-2', 'B-1']
    """
    return {f"{letter.upper()}-{digit}" for letter, digit in _GRADE.findall(text)}


_GRADE = re.compile(r"\b([A-Da-d])[-\s\u2010\u2011]?([1-3])\b")


def _equipment(equipment: str, *, has_bubblers: bool | None) -> Fit:
    if not equipment:
        return Fit.FITS
    if equipment != "bubblers" or has_bubblers is None:
        return Fit.ASK
    return Fit.FITS if has_bubblers else Fit.DOES_NOT


def unknown_grades(texts: Iterable[str]) -> list[str]:
    """Return what is no grade from A-1 to D-3."""
    return [text for text in texts if grades_in(text) != {text}]
