"""What people set for themselves; PIN and password only after the one that they have."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters

from moldcare.acts.doing import Doing
from moldcare.acts.people import OWN_FIELDS, set_own_ways, set_password, set_pin
from moldcare.acts.rights import Right, may
from moldcare.acts.sign_in import check_pin, check_sign_in
from moldcare.handin.models import HandIn
from moldcare.pages.access import page, person_of, plant_of
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.device import device_of
from moldcare.pages.own.forms import OwnPasswordForm, OwnPinForm, WaysForm
from moldcare.pages.seen import refuse_if_changed, seen_of
from moldcare.pages.setup.acting import form_page, values_of
from moldcare.pages.signers import Secret, secret_of
from moldcare.plant.models import Person


@page(writes=Right.LOOK)
def you(request: HttpRequest) -> HttpResponse:
    """Show who is signed in and how they sign; write down their language and units."""
    person, done = person_of(request), doing_again(request)
    form = WaysForm(sent(request), person=person)
    refuse_if_changed(request, form, done=done)
    changes = values_of(form, names=OWN_FIELDS) if form.is_bound and form.is_valid() else {}
    if attempt(form, lambda: set_own_ways(done, changes=changes)) is not None:
        with translation.override(changes["language"] or translation.get_language()):
            messages.success(request, _("Your pages are so from now on."))
        return redirect("you")
    context = {
        "page_title": _("You"),
        "nav_here": "",
        "row": person,
        "may_sign": may(person, Right.LOG_WORK),
        "plant_units": plant_of(request).get_units_display(),
        "seen": seen_of(form),
    }
    return filled(request, "own/you.html", context, form=form)


@sensitive_post_parameters("pin", "again", "secret")
@page(writes=Right.LOG_WORK, looks=Right.LOG_WORK)
def own_pin(request: HttpRequest) -> HttpResponse:
    """Set one's own PIN."""
    person, done = person_of(request), doing_again(request)
    secret = secret_of(person)
    form = OwnPinForm(sent(request), secret=secret)

    def act() -> int:
        _show_that_it_is_them(request, person, form=form, secret=secret, done=done)
        return set_pin(done, person=person, pin=form.cleaned_data["pin"]).row_id

    return _secret_page(
        request,
        form,
        act=act,
        said=_("You have a new PIN."),
        title=_("Your PIN"),
        submit=_("Set the PIN"),
    )


@sensitive_post_parameters("password", "again", "secret")
@page(writes=Right.LOOK)
def own_password(request: HttpRequest) -> HttpResponse:
    """Set one's own password."""
    person, done = person_of(request), doing_again(request)
    secret = Secret.SIGN_IN if person.has_usable_password() else secret_of(person)
    form = OwnPasswordForm(sent(request), secret=secret)

    def act() -> int:
        _show_that_it_is_them(request, person, form=form, secret=secret, done=done)
        written = set_password(done, person=person, password=form.cleaned_data["password"])
        # whoever else is signed in by the old password is not any more
        update_session_auth_hash(request, Person.objects.get(pk=person.pk))
        return written.row_id

    return _secret_page(
        request,
        form,
        act=act,
        said=_("You have a new password. Wherever else you were signed in, you are not any more."),
        title=_("Your password"),
        submit=_("Set the password"),
    )


def _show_that_it_is_them(
    request: HttpRequest,
    person: Person,
    *,
    form: OwnPinForm | OwnPasswordForm,
    secret: Secret,
    done: Doing,
) -> None:
    """Look at the secret that they have; the second of two taps was looked at with the first.

    Raises
    ------
    SignInRefused, TooManyTries
        If it is not theirs.
    """
    tapped = HandIn.objects.filter(pk=done.hand_in, person=person) if done.hand_in else None
    if tapped is not None and tapped.exists():
        return
    given, device, now = form.cleaned_data.get("secret", ""), device_of(request), timezone.now()
    if secret is Secret.PIN:
        check_pin(person.badge or "", pin=given, device=device, now=now)
    elif secret is Secret.SIGN_IN:
        check_sign_in(person.username, password=given, device=device, now=now)


def _secret_page(
    request: HttpRequest,
    form: OwnPinForm | OwnPasswordForm,
    *,
    act: Callable[[], int],
    said: str,
    title: str,
    submit: str,
) -> HttpResponse:
    if attempt(form, act) is not None:
        messages.success(request, said)
        return redirect("you")
    return form_page(
        request,
        form,
        title=title,
        lead=_("It is kept nowhere in a form that can be read, and in no logbook entry."),
        submit=submit,
        back=reverse("you"),
    )
