"""The two ways to sign in."""

from django import forms
from django.utils.translation import gettext_lazy as _


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
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )
    pin = forms.CharField(
        label=_("PIN"),
        max_length=12,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )
