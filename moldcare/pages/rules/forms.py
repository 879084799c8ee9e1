"""Forms around a care rule: deferring, when it was last done, why, and taking a set."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.care.models import CareRule
from moldcare.pages.fields import DayField, LinesField, TextField, WholeField
from moldcare.pages.rules.rule_form import LARGE
from moldcare.pages.words import count_words


class DeferForm(forms.Form):
    """Let a rule run past due."""

    def __init__(self, *args: Any, rule: CareRule, count: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.count = count
        if rule.count_base is not None and count is not None:
            self.fields["more"] = WholeField(
                label=_("Run on for"),
                unit=_("%(basis)s more") % {"basis": rule.get_count_basis_display()},
                least=1,
                most=LARGE,
                required=False,
                big=True,
                help_text=_("The count is %(count)s now.") % {"count": count_words(count)},
            )
        self.fields["until_on"] = DayField(
            label=_("Until the day"),
            required=False,
            help_text=_("The new limit is reached as this day begins."),
        )
        self.fields["reason"] = LinesField(
            most=400,
            label=_("Why"),
            error_messages={"required": _("Give the reason: the logbook keeps it.")},
        )

    def clean(self) -> dict[str, Any]:
        """Ask for a new limit."""
        data = super().clean() or {}
        if not self.errors and not data.get("more") and not data.get("until_on"):
            self.add_error(
                "more" if "more" in self.fields else "until_on",
                _("Give the new limit, by count, by date, or both."),
            )
        return data

    @property
    def until_count(self) -> int | None:
        """The count that is the new limit."""
        more = self.cleaned_data.get("more")
        return None if more is None or self.count is None else self.count + more


class LastDoneForm(forms.Form):
    """Say when a rule was last done by older records."""

    def __init__(self, *args: Any, rule: CareRule, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["done_on"] = DayField(label=_("Last done on"), required=False)
        if rule.count_base is not None:
            self.fields["done_count"] = WholeField(
                label=_("At a count of"), unit=rule.get_count_basis_display(), required=False
            )
        self.fields["source"] = TextField(
            most=200,
            label=_("On whose word"),
            help_text=_("Such as: card file of the toolroom."),
            error_messages={"required": _("Say where it comes from: the logbook keeps it.")},
        )

    def clean(self) -> dict[str, Any]:
        """Ask for a date or a count."""
        data = super().clean() or {}
        if not self.errors and not data.get("done_on") and data.get("done_count") is None:
            self.add_error("done_on", _("Give a date, a count, or both."))
        return data


class ReasonForm(forms.Form):
    """Ask why."""

    reason = LinesField(
        most=400,
        label=gettext_lazy("Why"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )
