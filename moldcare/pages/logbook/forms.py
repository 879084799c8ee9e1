"""What is typed to correct the logbook."""

import json
from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from moldcare.care.models import Completion
from moldcare.logbook.models import Entry
from moldcare.logbook.queries import CORRECTION_ENTRY
from moldcare.pages.fields import LinesField, TextField

MOST_SENTENCE = 4000


def words_of(entry: Entry) -> str:
    """Return what an entry says; of a correction, what it puts in the place of the other."""
    if entry.kind == CORRECTION_ENTRY:
        return str(json.loads(entry.facts)["sentence"])
    return entry.sentence


class CorrectionForm(forms.Form):
    """The entry as it should read, and why."""

    sentence = LinesField(most=MOST_SENTENCE, rows=5, label=gettext_lazy("As it should read"))
    reason = TextField(most=200, label=gettext_lazy("Why it is corrected"))

    def __init__(self, *args: Any, entry: Entry, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("sentence", words_of(entry))


class TakeBackForm(forms.Form):
    """Which of the entry's work had not been done after all, and why."""

    completion = forms.ChoiceField(
        widget=forms.RadioSelect, label=gettext_lazy("What was not done after all")
    )
    reason = TextField(most=200, label=gettext_lazy("Why it is taken back"))

    def __init__(self, *args: Any, completions: Sequence[Completion], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.completions = {str(row.pk): row for row in completions}
        choices = [(key, row.rule.name) for key, row in self.completions.items()]
        self.fields["completion"].choices = choices  # type: ignore[attr-defined]
        if len(choices) == 1:
            self.initial.setdefault("completion", choices[0][0])

    @property
    def chosen(self) -> Completion:
        """The completion that was chosen; only of a valid form."""
        return self.completions[self.cleaned_data["completion"]]
