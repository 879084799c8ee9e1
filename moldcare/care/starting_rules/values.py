"""What a starting rule is made of, and the factors of resin and filler."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

STARTING_REASON = "Starting value from memory of the trade, not yet checked by the plant."

# A rule whose count is shots and whose family is one of these runs shorter with a harsher resin.
RESIN_FAMILIES = frozenset({"vents", "finish", "rust_protection"})
RESIN_FACTORS: Mapping[str, Decimal] = {
    "mild": Decimal("1.0"),
    "medium": Decimal("0.8"),
    "gassy": Decimal("0.6"),
    "corrosive": Decimal("0.5"),
}
# Glass and mineral wear what they flow past and what guides.
FILLER_FAMILIES = frozenset({"hot_runner", "lubrication", "wear_parts"})
FILLER_FACTORS: Mapping[str, Decimal] = {"none": Decimal("1.0"), "glass": Decimal("0.6")}


@dataclass(frozen=True, kw_only=True, slots=True)
class StepStart:
    """One step: what to do, and what it asks for."""

    text: str
    kind: str = "tick"
    unit: str = ""
    low: str | None = None
    high: str | None = None
    choices: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        """Return the step as a rule set keeps it; limits as texts, for they are decimals."""
        return {
            "text": self.text,
            "kind": self.kind,
            "unit": self.unit,
            "low": self.low,
            "high": self.high,
            "choices": list(self.choices),
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleStart:
    """One rule of a set; fields as those of a care rule, `covers` are names of other rules."""

    name: str
    family: str
    reach: str
    where_done: str
    minutes: int
    steps: tuple[StepStart, ...]
    count_base: int | None = None
    count_basis: str = "cycles"
    days: int | None = None
    hours_limit: int | None = None
    event: str = ""
    calendar_counts: str = "always"
    covers: tuple[str, ...] = ()
    supplies: str = ""
    qualification: str = ""
    note: str = ""

    @property
    def reason(self) -> str:
        """Return why the interval is what it is."""
        return f"{STARTING_REASON} {self.note}".strip()


@dataclass(frozen=True, kw_only=True, slots=True)
class SetStart:
    """One rule set: for which molds, and its rules."""

    name: str
    note: str
    rules: tuple[RuleStart, ...]


def starting_factors(
    *, family: str, count_basis: str, resin_group: str, filler: str
) -> tuple[Decimal, Decimal]:
    """Return the resin factor and the filler factor of a rule of a mold, 1 where none acts.

    Examples
    --------
    >>> starting_factors(
    ...     family="vents", count_basis="shots", resin_group="gassy", filler="glass")
    (Decimal('0.6'), Decimal('1.0'))
    """
    resin = filling = Decimal("1.0")
    if family in RESIN_FAMILIES and count_basis == "shots":
        resin = RESIN_FACTORS[resin_group]
    if family in FILLER_FAMILIES:
        filling = FILLER_FACTORS[filler]
    return resin, filling


def ticks(*texts: str) -> tuple[StepStart, ...]:
    """Return steps that ask for a tick each."""
    return tuple(StepStart(text=text) for text in texts)
