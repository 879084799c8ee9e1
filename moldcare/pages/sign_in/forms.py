"""The two ways to sign in."""

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from moldcare.core.scanning import LONGEST_CODE, other_keyboards, scanned_code


class NameForm(forms.Form):
    """Name and password."""

    username = forms.CharField(
        label=_("Sign-in name"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        label=_("Password"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class BadgeForm(forms.Form):
    """Badge number and PIN, at a shared tablet."""

    badge = forms.CharField(
        label=_("Badge number"),
        max_length=LONGEST_CODE,
        strip=False,
        help_text=_("Type it, or let the reader type it."),
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off",
                "autocapitalize": "none",
                "inputmode": "numeric",
                "data-scan": "next",
                "data-pad-field": "",
            }
        ),
    )
    pin = forms.CharField(
        label=_("PIN"),
        max_length=12,
        strip=False,
        widget=forms.PasswordInput(
            attrs={
                "autocomplete": "off",
                "inputmode": "numeric",
                "data-not-empty": "",
                "data-pad-field": "",
            }
        ),
    )

    def clean_badge(self) -> str:
        """Return the number without a reader's marks; refuse keys of another keyboard."""
        badge = scanned_code(self.cleaned_data["badge"])
        other = badge_of_other_keyboard(badge)
        if other is not None:
            raise forms.ValidationError(other)
        return badge


def badge_of_other_keyboard(badge: str) -> str | None:
    """Return what to say where a badge came through another keyboard, None where it did not."""
    if any(sign.isdigit() for sign in badge):
        return None
    for other in other_keyboards(badge):
        if other.meant.isdigit():
            return gettext(
                "The reader is set to another keyboard than this tablet (%(keyboard)s?). Set it to "
                "the tablet's with its maker's card, or type the number."
            ) % {"keyboard": keyboard_words(other.keyboard)}
    return None


def keyboard_words(keyboard: str) -> str:
    """Return the name of a keyboard in the reader's language."""
    return {
        "German": gettext("German"),
        "French": gettext("French"),
        "Spanish": gettext("Spanish"),
    }[keyboard]
