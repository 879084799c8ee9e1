"""Forms of what people set for themselves."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _

from moldcare.acts.people import OWN_FIELDS
from moldcare.pages.setup.people_forms import (
    PasswordForm,
    PinForm,
    language_field,
    secret_field,
    units_field,
)
from moldcare.pages.signers import Secret
from moldcare.plant.models import Person


class WaysForm(forms.Form):
    """The language and the units of one's pages."""

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(person, name) for name in OWN_FIELDS}
        super().__init__(*args, **kwargs)
        self.fields["language"] = language_field()
        self.fields["units"] = units_field()


def _ask_first(form: forms.Form, *, secret: Secret) -> None:
    """Ask for what whoever is signed in repeats: a tablet lies about."""
    if secret is Secret.NOTHING:
        return
    is_pin = secret is Secret.PIN
    form.fields["secret"] = secret_field(
        label=_("Your PIN as it is now") if is_pin else _("Your password as it is now"),
        is_pin=is_pin,
        error_messages={"required": _("Show that it is you: give what you sign with now.")},
    )
    form.order_fields(["secret"])


class OwnPinForm(PinForm):
    """A new PIN of one's own."""

    def __init__(self, *args: Any, secret: Secret, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _ask_first(self, secret=secret)


class OwnPasswordForm(PasswordForm):
    """A new password of one's own."""

    def __init__(self, *args: Any, secret: Secret, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _ask_first(self, secret=secret)
