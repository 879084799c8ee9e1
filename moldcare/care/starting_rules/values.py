"""What a starting rule is made of, and the factors of resin and filler."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from moldcare.care.meant_for import MeantFor

STARTING_REASON = "Starting value from memory of the trade, not yet checked by the plant."

# What a resin does to vents and finish, and glass or mineral to what they flow past.
RESIN_FACTORS: Mapping[str, Decimal] = {
    "mild": Decimal("1.0"),
    "medium": Decimal("0.8"),
    "gassy": Decimal("0.6"),
    "corrosive": Decimal("0.5"),
}
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
class MeasuredStart:
    """On condition: what is measured, from which value when sound to which limit."""

    quantity: str
    unit: str
    baseline: str
    limit: str


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleStart:
    """One rule of a set; fields as those of a care rule, `covers` are names of other rules.

    `signs` are what shows on the part, or on the mold, when it is late: the first to be seen first.
    `by_resin` and `by_filler` say whether the factors of the mold's resin and filler shorten it.
    """

    name: str
    family: str
    reach: str
    where_done: str
    minutes: int
    steps: tuple[StepStart, ...]
    signs: tuple[str, ...]
    count_base: int | None = None
    count_basis: str = "cycles"
    days: int | None = None
    hours_limit: int | None = None
    event: str = ""
    calendar_counts: str = "always"
    measured: MeasuredStart | None = None
    by_resin: bool = False
    by_filler: bool = False
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
    meant_for: MeantFor = field(default_factory=MeantFor)


def factors_of(
    *, by_resin: bool, by_filler: bool, resin_group: str, filler: str
) -> tuple[Decimal, Decimal]:
    """Return the resin factor and the filler factor of a rule on a mold, 1 where none acts.

    Examples
    --------
    >>> factors_of(by_resin=True, by_filler=False, resin_group="gassy", filler="glass")
    (Decimal('0.6'), Decimal('1.0'))
    """
    return (
        RESIN_FACTORS[resin_group] if by_resin else Decimal("1.0"),
        FILLER_FACTORS[filler] if by_filler else Decimal("1.0"),
    )


def ticks(*texts: str) -> tuple[StepStart, ...]:
    """Return steps that ask for a tick each."""
    return tuple(StepStart(text=text) for text in texts)
