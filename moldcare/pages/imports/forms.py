"""The forms that take a file, take an import back, and mend a row."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.tables import Choice
from moldcare.pages.imports.kinds import words_of_kind
from moldcare.pages.large_uploads import MOST_MEGABYTES

CELL = "cell_"
#: Longer cells are none of a register.
CELL_LENGTH = 200


class UploadForm(forms.Form):
    """One file."""

    file = forms.FileField(
        label=gettext_lazy("File"),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
        error_messages={"required": gettext_lazy("Choose a file first.")},
    )

    def __init__(self, *args: Any, kind: str = ImportBatch.Kind.READINGS, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.words = words_of_kind(kind)
        self.fields["file"].help_text = str(self.words.help)

    def clean_file(self) -> Any:
        """Refuse what is too large for a page; the command takes any size."""
        file = self.cleaned_data["file"]
        if file.size > MOST_MEGABYTES * 1024 * 1024:
            raise ValidationError(
                _(
                    "The file is larger than %(n)d MB. Bring it in on the server, by the command "
                    "%(command)s."
                )
                % {"n": MOST_MEGABYTES, "command": self.words.command}
            )
        return file


class UndoForm(forms.Form):
    """Why an import is taken back."""

    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=200,
        help_text=gettext_lazy("The logbook of every mold keeps it."),
    )


class MendForm(forms.Form):
    """The cells of a kept row, and what is asked about it."""

    def __init__(
        self,
        *args: Any,
        headings: Sequence[str],
        cells: Sequence[str],
        asked: Sequence[tuple[str, str, Sequence[Choice]]],
        answers: Mapping[str, str],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.cell_names = []
        for place in range(max(len(headings), len(cells))):
            heading = headings[place] if place < len(headings) else ""
            name = f"{CELL}{place}"
            self.fields[name] = forms.CharField(
                label=heading or _("column %(n)d") % {"n": place + 1},
                required=False,
                max_length=CELL_LENGTH,
                strip=False,
                initial=cells[place] if place < len(cells) else "",
            )
            self.cell_names.append(name)
        for key, text, choices in asked:
            taken = [(choice.value, choice.text) for choice in choices]
            if choices:
                self.fields[key] = forms.ChoiceField(
                    label=text,
                    choices=taken,
                    required=False,
                    initial=answers.get(key, ""),
                    widget=forms.RadioSelect,
                )
            else:
                self.fields[key] = forms.CharField(
                    label=text, required=False, max_length=60, initial=answers.get(key, "")
                )
