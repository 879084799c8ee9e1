"""Whether what a form changes is still as it was when somebody opened the form."""

from hashlib import sha256

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.handin.models import HandIn


def seen_of(form: forms.Form) -> str:
    """Return a mark of what the form began with: another once something else is there."""
    said = [f"{name}={value}" for name, value in sorted(form.initial.items())]
    return sha256("\n".join(said).encode()).hexdigest()[:16]


def refuse_if_changed(request: HttpRequest, form: forms.Form, *, done: Doing) -> None:
    """Put on a sent form that what it changes was changed since it was opened.

    The second of two taps is no change by others.
    """
    seen = request.POST.get("seen", "")
    if not seen or seen == seen_of(form) or not form.is_valid():
        return
    if done.hand_in is not None and HandIn.objects.filter(pk=done.hand_in).exists():
        return
    form.add_error(
        None,
        _(
            "Somebody changed this after you opened it. Look at what is there now, and send this "
            "again if it shall be as it stands here."
        ),
    )
