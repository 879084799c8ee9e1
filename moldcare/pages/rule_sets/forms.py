"""Forms of rule sets: the set itself, a rule in it, which molds, and why."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.rules import NewStep
from moldcare.care.meant_for import MeantFor, grades_in
from moldcare.care.models import Equipment, RuleSet, SetRule
from moldcare.care.set_queries import rules_of
from moldcare.molds.models import Filler, MoldClass, ResinGroup
from moldcare.molds.queries import owners_in_use
from moldcare.pages.fields import LinesField, TextField
from moldcare.pages.rules.forms import ReasonForm
from moldcare.pages.rules.rule_form import STARTS, TermsForm, terms_initial
from moldcare.pages.rules.steps import lines_of

__all__ = ["ReasonForm", "SetForm", "SetRuleForm", "WhichMolds", "reason_field"]


def reason_field(label: Any) -> LinesField:
    """Return a field that asks why."""
    return LinesField(
        most=400,
        rows=2,
        label=label,
        error_messages={"required": _("Give the reason: the logbook keeps it.")},
    )


def _ticks(label: Any, *, choices: Any) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        choices=choices, required=False, widget=forms.CheckboxSelectMultiple, label=label
    )


class SetForm(forms.Form):
    """A rule set: its name, for which molds it is meant, and why."""

    name = TextField(
        most=120,
        label=gettext_lazy("Name"),
        error_messages={"required": gettext_lazy("Give the set a name.")},
    )
    note = LinesField(
        most=400, rows=2, required=False, label=gettext_lazy("For which molds, in a sentence")
    )
    mold_classes = _ticks(gettext_lazy("Only molds of class"), choices=MoldClass.choices)
    resin_groups = _ticks(gettext_lazy("Only molds that run"), choices=ResinGroup.choices)
    fillers = _ticks(gettext_lazy("Only with the filler"), choices=Filler.choices)
    finishes = TextField(
        most=60,
        required=False,
        label=gettext_lazy("Only with a finish of grade"),
        help_text=gettext_lazy("Such as A-1, A-2. Grades go from A-1 to D-3."),
    )
    equipment = forms.ChoiceField(
        choices=Equipment.choices, required=False, label=gettext_lazy("Only molds that have")
    )

    def __init__(self, *args: Any, rule_set: RuleSet | None = None, **kwargs: Any) -> None:
        if rule_set is not None:
            kwargs["initial"] = set_initial(rule_set)
        super().__init__(*args, **kwargs)
        self.fields["reason"] = reason_field(_("Why"))

    def clean_finishes(self) -> str:
        """Say what is no grade; keep the grades in one spelling."""
        text: str = self.cleaned_data["finishes"]
        parts = [part for part in text.replace(";", ",").split(",") if part.strip()]
        for part in parts:
            if len(grades_in(part)) != 1:
                raise forms.ValidationError(
                    _("“%(text)s” is no grade. Write grades with commas between: A-1, A-2.")
                    % {"text": part.strip()}
                )
        return ", ".join(sorted(grades_in(text)))

    @property
    def meant_for(self) -> MeantFor:
        """For which molds the set is meant."""
        data = self.cleaned_data
        return MeantFor(
            mold_classes=tuple(data["mold_classes"]),
            resin_groups=tuple(data["resin_groups"]),
            fillers=tuple(data["fillers"]),
            finishes=tuple(sorted(grades_in(data["finishes"]))),
            equipment=data["equipment"],
        )


def set_initial(rule_set: RuleSet) -> dict[str, Any]:
    """Return what the form shows of a set."""
    return {
        "name": rule_set.name,
        "note": rule_set.note,
        "mold_classes": rule_set.mold_classes,
        "resin_groups": rule_set.resin_groups,
        "fillers": rule_set.fillers,
        "finishes": ", ".join(rule_set.finishes),
        "equipment": rule_set.equipment,
    }


class SetRuleForm(TermsForm):
    """Everything that a rule of a set says."""

    by_resin = forms.BooleanField(
        required=False,
        label=gettext_lazy(
            "The mold's resin shortens it: × 0.8 for ABS, PC, PA; × 0.6 for POM, gassy or rich in "
            "regrind; × 0.5 for flame retardant or PVC"
        ),
    )
    by_filler = forms.BooleanField(
        required=False, label=gettext_lazy("Glass or mineral in it shortens it: × 0.6")
    )

    def __init__(
        self, *args: Any, rule_set: RuleSet, row: SetRule | None = None, **kwargs: Any
    ) -> None:
        self.row = row
        kwargs["initial"] = set_rule_initial(row) if row else dict(STARTS)
        super().__init__(*args, **kwargs)
        others = [other.name for other in rules_of(rule_set) if row is None or other.pk != row.pk]
        self.fields["covers"] = forms.MultipleChoiceField(
            choices=[(name, name) for name in others],
            required=False,
            widget=forms.CheckboxSelectMultiple,
            label=_("When it is done, it restarts"),
        )


def set_rule_initial(row: SetRule) -> dict[str, Any]:
    """Return what the form shows of a rule of a set; the reason for a change is asked anew."""
    return {
        **terms_initial(row),
        "by_resin": row.by_resin,
        "by_filler": row.by_filler,
        "steps": lines_of(NewStep.kept(step) for step in row.steps),
        "covers": list(row.covers),
    }


class WhichMolds(forms.Form):
    """Which molds to choose from."""

    q = forms.CharField(max_length=120, required=False, label=gettext_lazy("Number or name"))
    took = forms.ChoiceField(required=False, label=gettext_lazy("Molds that"))
    mold_class = forms.ChoiceField(required=False, label=gettext_lazy("Class"))
    resin_group = forms.ChoiceField(required=False, label=gettext_lazy("Resin"))
    finish = forms.ChoiceField(required=False, label=gettext_lazy("Finish"))
    owner = forms.ChoiceField(required=False, label=gettext_lazy("Owner"))

    def __init__(self, data: Mapping[str, Any] | None) -> None:
        super().__init__(data)
        anything = ("", _("any"))
        choices: dict[str, list[tuple[str, Any]]] = {
            "took": [
                ("", _("fit the set, or may")),
                ("behind", _("took it before its last change")),
                ("not", _("have not taken it")),
                ("all", _("are in use")),
            ],
            "mold_class": [anything, *MoldClass.choices],
            "resin_group": [anything, *ResinGroup.choices],
            "finish": [anything, ("A", "A-1 … A-3"), ("B", "B-1 … B-3"), ("C", "C-1 … C-3"),
                       ("D", "D-1 … D-3")],
            "owner": [anything, *((str(row.pk), row.name) for row in owners_in_use())],
        }  # fmt: skip
        for name, found in choices.items():
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = found

    def wanted(self, name: str) -> str:
        """Return what was asked for; what cannot be chosen is left out."""
        if not self.is_bound:
            return ""
        self.is_valid()
        return str(self.cleaned_data.get(name) or "")
