"""The steps of a rule."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import checked
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.words import tidy
from moldcare.care.models import CareRule, Step
from moldcare.work.models import StepValue

MOST_STEPS = 60


@dataclass(frozen=True, kw_only=True, slots=True)
class NewStep:
    """A step as somebody writes it; see `Step` for the fields."""

    text: str
    kind: str = Step.Kind.TICK
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    choices: tuple[str, ...] = ()

    @classmethod
    def kept(cls, kept: Mapping[str, Any]) -> "NewStep":
        """Read a step as a rule set or a version keeps it."""
        low, high = kept.get("low"), kept.get("high")
        return cls(
            text=str(kept["text"]),
            kind=str(kept.get("kind") or Step.Kind.TICK),
            unit=str(kept.get("unit") or ""),
            low=None if low is None else Decimal(str(low)),
            high=None if high is None else Decimal(str(high)),
            choices=tuple(str(choice) for choice in kept.get("choices") or ()),
        )

    @classmethod
    def of_row(cls, row: Step) -> "NewStep":
        """Read a step as a rule has it."""
        return cls(
            text=row.text,
            kind=row.kind,
            unit=row.unit,
            low=row.low,
            high=row.high,
            choices=tuple(row.choices),
        )


def steps_of(rule: CareRule) -> list[NewStep]:
    """Return a rule's steps in their order."""
    return [NewStep.of_row(row) for row in Step.objects.filter(rule=rule).order_by("place")]


def step_facts(steps: Iterable[NewStep]) -> list[dict[str, Any]]:
    """Return steps as versions and entries keep them: what says nothing is left out."""
    facts = []
    for step in steps:
        plain = {
            **asdict(step),
            "low": None if step.low is None else format(step.low.normalize(), "f"),
            "high": None if step.high is None else format(step.high.normalize(), "f"),
            "choices": list(step.choices),
        }
        facts.append({name: value for name, value in plain.items() if value not in (None, "", [])})
    return facts


def tidied(steps: Sequence[NewStep]) -> list[NewStep]:
    """Return steps as they are stored.

    Raises
    ------
    Incomplete
        If a step says nothing, asks for a choice without choices, or there are too many.
    """
    if len(steps) > MOST_STEPS:
        raise Incomplete(
            _("A rule has at most %(most)s steps; these are %(n)s. Make two rules of it.")
            % {"most": MOST_STEPS, "n": len(steps)}
        )
    found = []
    for place, step in enumerate(steps, start=1):
        text = tidy(step.text)
        if not text:
            raise Incomplete(_("Step %(place)s says nothing.") % {"place": place})
        choices = tuple(tidy(choice) for choice in step.choices if tidy(choice))
        if step.kind == Step.Kind.CHOICE and len(choices) < 2:
            raise Incomplete(
                _("Step %(place)s asks for a choice: give two or more.") % {"place": place}
            )
        found.append(
            NewStep(
                text=text,
                kind=step.kind,
                unit=tidy(step.unit),
                low=step.low,
                high=step.high,
                choices=choices if step.kind == Step.Kind.CHOICE else (),
            )
        )
    return found


def write_steps(rule: CareRule, steps: Sequence[NewStep]) -> None:
    """Put steps in the place of the ones that a rule has.

    Raises
    ------
    DoesNotFit
        If an order that is not signed was begun with the steps that are there.
    """
    begun = StepValue.objects.filter(
        task__rule=rule, order__signed_at__isnull=True, order__struck_out_at__isnull=True
    ).select_related("order")
    first = begun.first()
    if first is not None:
        raise DoesNotFit(
            _(
                "Order %(number)s was begun with the steps as they are. Sign it or strike it out, "
                "then change them."
            )
            % {"number": first.order.number}
        )
    rows = step_rows(steps, rule=rule)
    Step.objects.filter(rule=rule).delete()
    Step.objects.bulk_create(rows)


def check_steps(steps: Sequence[NewStep]) -> None:
    """Raise Incomplete unless steps can be a rule's; for those that a set keeps."""
    step_rows(steps, rule=None)


def step_rows(
    steps: Sequence[NewStep], *, rule: CareRule | None, is_checked: bool = False
) -> list[Step]:
    """Return steps as rows, each checked unless they were before."""
    rows = []
    for place, step in enumerate(steps, start=1):
        row = Step(
            rule=rule,
            place=place,
            text=step.text,
            kind=step.kind,
            unit=step.unit,
            low=step.low,
            high=step.high,
            choices=list(step.choices),
        )
        if not is_checked:
            checked(row, exclude=("rule", "choices"))
        rows.append(row)
    return rows
