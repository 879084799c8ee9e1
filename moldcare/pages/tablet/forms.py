"""What is typed about entries that were stuck on tablets, and what comes with them."""

import json
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.tablets import MOST_NOTE
from moldcare.pages.fields import LinesField, TextField
from moldcare.pages.waiting import instant_of

MOST_FIELDS = 2000
MOST_PHOTOS = 40
PHOTO = "photo-"


class StuckForm(forms.Form):
    """An entry as a tablet gives it: what it is, why it was not taken, and all its fields."""

    stuck = forms.UUIDField()
    author_said = TextField(most=120, required=False)
    address = TextField(most=300, required=False)
    said = TextField(most=200, required=False)
    why = TextField(most=1000, required=False)
    worked_at = forms.CharField(max_length=40)
    content = forms.CharField(max_length=400_000)
    discarded = TextField(most=MOST_NOTE, required=False)

    def clean_worked_at(self) -> Any:
        """Return when it was filled in."""
        found = instant_of(self.cleaned_data["worked_at"])
        if found is None:
            raise forms.ValidationError(_("This is no time."))
        return found

    def clean_content(self) -> list[tuple[str, str]]:
        """Return names and values of its fields."""
        try:
            rows = json.loads(self.cleaned_data["content"])
        except ValueError:
            rows = None
        is_sound = isinstance(rows, list) and len(rows) <= MOST_FIELDS
        if not is_sound or not all(isinstance(each, list) and len(each) == 2 for each in rows):
            raise forms.ValidationError(_("What was typed cannot be read."))
        # a secret is sealed and never typed; it is of no use to a lead
        return [(str(name), str(value)) for name, value in rows if not str(name).endswith("-seal")]

    @property
    def stuck_id(self) -> UUID:
        """The entry's own UUID."""
        found: UUID = self.cleaned_data["stuck"]
        return found


class SettleForm(forms.Form):
    """What became of a stuck entry."""

    note = LinesField(most=MOST_NOTE, rows=2, label=gettext_lazy("What became of it"))
