"""The form of a care rule: limits beside what they come to, steps as lines, covers as ticks."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.care.convert import TERM_FIELDS, rule_terms
from moldcare.care.models import CareRule, Family, Reach, RuleTermsModel, WhereDone
from moldcare.core.due import check_terms
from moldcare.core.errors import DomainError, TermsContradict
from moldcare.molds.models import Circuit, Mold, Position
from moldcare.pages.fields import DayField, DecimalField, LinesField, TextField, WholeField
from moldcare.pages.rules.intervals import Interval, intervals_of
from moldcare.pages.rules.steps import lines_of, steps_in

SMALL, LARGE = 32_767, 2**31 - 1
STEPS_LENGTH = 30_000
# what only a mold's rule, or only a set's, says
OWN_TERMS = ("changes_component", "by_resin", "by_filler")
FACTORS = ("factor_resin", "factor_filler", "factor_finish")
# fields that are texts in the model: an empty one is "", everything else empty is None
_TEXTS = frozenset({"period_unit", "event", "measured_quantity", "measured_unit", "signs"})
# when the limits contradict each other: the one without which the rest can stand is named
_DOUBTED = (
    "lead_count",
    "margin_count",
    "hard_count",
    "lead_days",
    "margin_days",
    "hard_days",
    "hard_hours",
    "early_window_days",
    "anchor_on",
    "event_after_days",
    "margin_shifts",
    "measured_limit",
    "hours_limit",
    "count_base",
)
# what says something only beside another field
_NEEDS = {
    "lead_count": "count_base",
    "margin_count": "count_base",
    "hard_count": "count_base",
    "lead_days": "period_n",
    "margin_days": "period_n",
    "hard_days": "period_n",
    "anchor_on": "period_n",
    "early_window_days": "period_n",
    "hard_hours": "hours_limit",
    "event_after_days": "event",
    "margin_shifts": "event",
    "measured_unit": "measured_quantity",
    "measured_limit": "measured_quantity",
    "measured_baseline": "measured_limit",
}


def _small(label: Any, *, unit: Any = "", **kwargs: Any) -> WholeField:
    kwargs.setdefault("required", False)
    kwargs.setdefault("most", SMALL)
    return WholeField(label=label, unit=unit, **kwargs)


def _factor(label: Any) -> DecimalField:
    return DecimalField(
        label=label, least=Decimal("0.05"), most=2, places=2, digits=4, required=False
    )


class TermsForm(forms.Form):
    """What a rule of a mold and a rule of a set have in common."""

    #: whose resin, filler and finish the factors are for; None in a set
    mold: Mold | None = None

    name = TextField(
        most=120,
        label=gettext_lazy("Name"),
        error_messages={"required": gettext_lazy("Say in a few words what is to be done.")},
    )
    family = forms.ModelChoiceField(
        Family.objects.all(),
        label=gettext_lazy("Family"),
        empty_label=gettext_lazy("choose"),
        error_messages={"required": gettext_lazy("Choose the family.")},
    )
    count_base = _small(gettext_lazy("Every"), least=1, most=LARGE)
    count_basis = forms.ChoiceField(
        choices=RuleTermsModel.Basis.choices, label=gettext_lazy("Counted in")
    )
    factor_resin = _factor(gettext_lazy("Resin factor"))
    factor_filler = _factor(gettext_lazy("Filler factor"))
    factor_finish = _factor(gettext_lazy("Finish factor"))
    period_n = _small(gettext_lazy("Or every"), least=1)
    period_unit = forms.ChoiceField(
        choices=RuleTermsModel.PeriodUnit.choices, required=False, label=gettext_lazy("Period")
    )
    anchor_on = DayField(
        required=False,
        label=gettext_lazy("On fixed dates from"),
        help_text=gettext_lazy("Empty: from the last work on."),
    )
    early_window_days = _small(gettext_lazy("Early window"), unit=gettext_lazy("days"))
    calendar_counts = forms.ChoiceField(
        choices=RuleTermsModel.CalendarCounts.choices, label=gettext_lazy("The calendar counts")
    )
    hours_limit = _small(
        gettext_lazy("Or every"), unit=gettext_lazy("running hours"), least=1, most=LARGE
    )
    event = forms.ChoiceField(
        choices=RuleTermsModel.Event.choices, required=False, label=gettext_lazy("Or")
    )
    event_after_days = _small(
        gettext_lazy("Only after a stay of"), unit=gettext_lazy("days"), least=1
    )
    measured_quantity = TextField(
        most=60,
        required=False,
        label=gettext_lazy("Or by a measured quantity"),
        help_text=gettext_lazy("Such as flow of circuit A1."),
    )
    measured_unit = TextField(most=20, required=False, label=gettext_lazy("Unit"))
    measured_baseline = DecimalField(required=False, label=gettext_lazy("Its baseline"))
    measured_limit = DecimalField(required=False, label=gettext_lazy("Its limit"))

    lead_count = _small(gettext_lazy("Due soon"), unit=gettext_lazy("counts before"), most=LARGE)
    lead_days = _small(gettext_lazy("Due soon"), unit=gettext_lazy("days before"))
    margin_count = _small(gettext_lazy("Margin"), unit=gettext_lazy("counts"), most=LARGE)
    margin_days = _small(gettext_lazy("Margin"), unit=gettext_lazy("days"))
    margin_shifts = _small(gettext_lazy("Margin after an event"), unit=gettext_lazy("shifts"))
    hard_count = _small(gettext_lazy("Hard limit"), unit=gettext_lazy("counts"), most=LARGE)
    hard_days = _small(gettext_lazy("Hard limit"), unit=gettext_lazy("days"))
    hard_hours = _small(gettext_lazy("Hard limit"), unit=gettext_lazy("running hours"), most=LARGE)

    reach = forms.ChoiceField(choices=Reach.choices, label=gettext_lazy("Reach"))
    where_done = forms.ChoiceField(choices=WhereDone.choices, label=gettext_lazy("Done"))
    minutes = _small(gettext_lazy("Takes"), unit="min", least=1, required=True)
    people = _small(gettext_lazy("People"), least=1, required=True)
    qualification = TextField(
        most=80, required=False, label=gettext_lazy("Qualification that it needs")
    )
    supplies = LinesField(most=400, rows=2, required=False, label=gettext_lazy("Supplies"))
    signs = LinesField(
        most=400,
        rows=3,
        required=False,
        label=gettext_lazy("Signs on the part that it is overdue, one a line"),
        help_text=gettext_lazy("The first to be seen first. Empty: those of its family."),
    )
    is_safety_relevant = forms.BooleanField(
        required=False, label=gettext_lazy("It is safety relevant")
    )
    asks_checked = forms.BooleanField(
        required=False, label=gettext_lazy("A second person signs “checked”")
    )
    asks_accepted = forms.BooleanField(
        required=False, label=gettext_lazy("A lead signs “accepted”")
    )
    steps = LinesField(
        most=STEPS_LENGTH, rows=8, required=False, label=gettext_lazy("Steps, one a line")
    )
    reason = LinesField(
        most=400,
        rows=2,
        label=gettext_lazy("Why this interval"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )

    def clean_steps(self) -> str:
        """Say which line cannot be read."""
        text: str = self.cleaned_data["steps"]
        try:
            steps_in(text)
        except DomainError as error:
            raise forms.ValidationError(str(error)) from None
        return text

    def clean(self) -> dict[str, Any]:
        """Name the limit that contradicts the others."""
        data = super().clean() or {}
        for name in FACTORS:
            if name in data and data[name] is None:
                data[name] = Decimal(1)
        if not self.errors:
            self._check_limits(data)
        return data

    def _check_limits(self, data: Mapping[str, Any]) -> None:
        if (data["period_n"] is None) != (not data["period_unit"]):
            self.add_error("period_n", _("A period needs a number and a unit."))
            return
        for name, needed in _NEEDS.items():
            if data[name] not in (None, "") and data[needed] in (None, ""):
                base = str(self.fields[needed].label)
                self.add_error(
                    name, _("This says nothing without “%(base)s”.") % {"base": base.lower()}
                )
        error = None if self.errors else _contradiction(data)
        if error is None:
            return
        found = [name for name in _DOUBTED if data[name] is not None]
        culprits = [name for name in found if _contradiction({**data, name: None}) is None]
        self.add_error(culprits[0] if culprits else None, error)

    @property
    def terms(self) -> dict[str, Any]:
        """The terms as the acts take them."""
        data = self.cleaned_data
        return {name: data[name] for name in (*TERM_FIELDS, *OWN_TERMS) if name in data}

    @property
    def told(self) -> dict[str, Any]:
        """What the acts take beside the terms: the reason, the steps, and what it restarts."""
        data = self.cleaned_data
        return {
            "reason": data["reason"],
            "steps": steps_in(data["steps"]),
            "covers": data["covers"],
        }

    @property
    def reckoning(self) -> list[Interval]:
        """Base, factors and interval as they stand in the form; none where there is no base."""
        data = self.cleaned_data if self.is_bound and self.is_valid() else self.initial
        if self.is_bound and not self.is_valid():
            data = {**self.initial, **self.cleaned_data}
        return intervals_of(_row({name: data.get(name) for name in _LIMITS}), mold=self.mold)


class RuleForm(TermsForm):
    """Everything that a care rule of a mold or an auxiliary says."""

    changes_component = forms.BooleanField(
        required=False, label=gettext_lazy("Fitting a new piece in the position completes it")
    )

    def __init__(
        self, *args: Any, mold: Mold | None, rule: CareRule | None = None, **kw: Any
    ) -> None:
        self.rule, self.mold = rule, mold
        kw["initial"] = rule_initial(rule) if rule else dict(STARTS)
        super().__init__(*args, **kw)
        others = CareRule.objects.filter(mold=mold, withdrawn_at__isnull=True)
        if mold is None:
            others = CareRule.objects.none()
        if rule is not None:
            others = others.exclude(pk=rule.pk)
        self.fields["covers"] = forms.TypedMultipleChoiceField(
            choices=[(str(other.pk), other.name) for other in others.order_by("id")],
            coerce=int,
            required=False,
            widget=forms.CheckboxSelectMultiple,
            label=_("When it is done, it restarts"),
        )
        if rule is None and mold is not None:
            self.fields["target"] = forms.ChoiceField(
                choices=_targets(mold), label=_("It looks after")
            )


_LIMITS = tuple(name for name in TERM_FIELDS if name not in ("name", "family"))
STARTS: dict[str, Any] = {
    "count_basis": RuleTermsModel.Basis.SHOTS,
    "factor_resin": Decimal(1),
    "factor_filler": Decimal(1),
    "factor_finish": Decimal(1),
    "calendar_counts": RuleTermsModel.CalendarCounts.ALWAYS,
    "reach": Reach.FACES,
    "where_done": WhereDone.BENCH,
    "minutes": 15,
    "people": 1,
}


def terms_initial(row: RuleTermsModel) -> dict[str, Any]:
    """Return the terms of a rule as the form shows them."""
    return {name: getattr(row, name) for name in TERM_FIELDS}


def rule_initial(rule: CareRule) -> dict[str, Any]:
    """Return what the form shows of a rule; the reason for a change is asked anew."""
    initial = terms_initial(rule)
    initial["changes_component"] = rule.changes_component
    initial["steps"] = lines_of(rule.steps.order_by("place"))
    initial["covers"] = list(rule.covers.values_list("covered_id", flat=True))
    return initial


def _row(data: Mapping[str, Any]) -> CareRule:
    row = CareRule()
    for name in _LIMITS:
        value = data.get(name)
        field_default = getattr(row, name)
        if value is None and (name in _TEXTS or name in FACTORS or name in STARTS):
            value = field_default
        setattr(row, name, value)
    return row


def _contradiction(data: Mapping[str, Any]) -> str | None:
    try:
        check_terms(rule_terms(_row(data)))
    except TermsContradict as error:
        return str(error)
    return None


def _targets(mold: Mold) -> list[tuple[str, str]]:
    choices = [("mold", _("the mold")), ("all_circuits", _("all circuits"))]
    choices += [
        (f"position {row.pk}", _("position %(ident)s") % {"ident": row.ident})
        for row in Position.objects.filter(mold=mold).order_by("id")
    ]
    choices += [
        (f"circuit {row.pk}", _("circuit %(ident)s") % {"ident": row.ident})
        for row in Circuit.objects.filter(mold=mold).order_by("id")
    ]
    return choices


def target_of(chosen: str) -> dict[str, Any]:
    """Return what `write_rule` asks for a chosen target."""
    kind, _blank, key = chosen.partition(" ")
    if kind == "position":
        return {"target": kind, "position": Position.objects.get(pk=int(key))}
    if kind == "circuit":
        return {"target": kind, "circuit": Circuit.objects.get(pk=int(key))}
    return {"target": kind}
