"""The form that takes a file."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

MOST_MEGABYTES = 40


class UploadForm(forms.Form):
    """One file."""

    file = forms.FileField(
        label=gettext_lazy("File"),
        help_text=gettext_lazy(
            "CSV or XLSX, one row a reading or one column a mold. Nothing is written yet."
        ),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
        error_messages={"required": gettext_lazy("Choose a file first.")},
    )

    def clean_file(self) -> Any:
        """Refuse what is too large for a page; the command takes any size."""
        file = self.cleaned_data["file"]
        if file.size > MOST_MEGABYTES * 1024 * 1024:
            raise ValidationError(
                _(
                    "The file is larger than %(n)d MB. Bring it in on the server, by the command "
                    "import_readings."
                )
                % {"n": MOST_MEGABYTES}
            )
        return file
