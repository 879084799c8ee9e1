"""Photos that come with a form: kept at once, so that a refused form does not lose them."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.files import MOST_BYTES, add_file
from moldcare.core.errors import DomainError
from moldcare.files.models import File
from moldcare.files.queries import file_of, is_photo
from moldcare.pages.acting import beside


@dataclass(frozen=True, kw_only=True, slots=True)
class Chosen:
    """What a photo field was sent with: a new picture, or the name of one that is kept."""

    upload: "UploadedFile[Any] | None" = None
    kept: File | None = None

    def __bool__(self) -> bool:
        """Return whether there is a picture."""
        return self.upload is not None or self.kept is not None


class PhotoWidget(forms.ClearableFileInput):
    """The camera of a tablet, or a file; remembers a picture that came with a refused form."""

    template_name = "fields/photo.html"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"accept": "image/jpeg,image/png,image/webp", **(attrs or {})})

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the picture that is kept already."""
        context = super().get_context(name, value, attrs)
        context["kept"] = value.kept if isinstance(value, Chosen) else None
        return context

    def use_required_attribute(self, initial: Any) -> bool:
        """Leave it to the server: a reason may stand in for the picture."""
        return False

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Chosen:
        """Return the new picture, else the one that is kept."""
        sha256 = str(data.get(f"{name}-kept") or "")
        kept = file_of(sha256) if len(sha256) == 64 and sha256.isalnum() else None
        return Chosen(
            upload=files.get(name),
            kept=kept if kept is not None and is_photo(kept) else None,
        )

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        """Return whether nothing came at all."""
        return name not in files and f"{name}-kept" not in data


class PhotoField(forms.Field):
    """A photo; its value is a `Chosen`, which is false where there is none."""

    widget = PhotoWidget
    kind = "photo"

    def clean(self, value: Any) -> Chosen:
        """Return what was chosen; refuse what is empty or too large before it is read."""
        chosen = value if isinstance(value, Chosen) else Chosen()
        if chosen.upload is not None and (chosen.upload.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                _("The file has %(size)d MB; at most %(most)d MB are kept. Take it smaller.")
                % {"size": -(-(chosen.upload.size or 0) // 2**20), "most": MOST_BYTES // 2**20}
            )
        return chosen

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return whether a picture came."""
        return bool(data)


def keep_photo(form: forms.BaseForm, *, name: str, doing: Doing) -> File | None:
    """Keep the picture of a valid form and return it; None where there is none.

    What is refused is said beside the field. A picture that was kept is remembered by the form, so
    that it is not asked for again when something else of the form is refused.
    """
    chosen: Chosen = form.cleaned_data.get(name) or Chosen()
    if chosen.upload is None:
        return chosen.kept
    try:
        added = add_file(
            beside(doing, name=f"photo {name}"),
            content=chosen.upload.read(),
            name=chosen.upload.name or "",
        )
    except DomainError as error:
        form.add_error(name, str(error))
        return None
    kept = file_of(added.sha256)
    form.cleaned_data[name] = Chosen(kept=kept)
    remembered = QueryDict(mutable=True)
    remembered.update(form.data)
    remembered[f"{form.add_prefix(name)}-kept"] = added.sha256
    form.data = remembered
    form.files = MultiValueDict()
    return kept
