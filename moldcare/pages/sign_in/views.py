"""Signing in and off."""

from collections.abc import Callable

from django import forms
from django.conf import settings
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from moldcare.acts.sign_in import check_pin, check_sign_in
from moldcare.core.errors import DomainError
from moldcare.pages.device import device_of, name_device
from moldcare.pages.sign_in.forms import BadgeForm, NameForm
from moldcare.pages.sign_in.idle import begin_at_tablet
from moldcare.plant.models import Person
from moldcare.plant.queries import the_plant

# a Wall is a reader's device sign-in; it stays signed in for a year
WALL_SESSION_S = 365 * 24 * 3600


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Sign in with name and password."""
    form = NameForm(request.POST or None)

    def check() -> Person:
        return check_sign_in(
            form.cleaned_data["username"],
            password=form.cleaned_data["password"],
            device=device_of(request),
            now=timezone.now(),
        )

    return _sign(request, form, check, "sign_in/sign_in.html")


@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_at_tablet(request: HttpRequest) -> HttpResponse:
    """Sign in with badge number and PIN."""
    form = BadgeForm(request.POST or None)

    def check() -> Person:
        return check_pin(
            form.cleaned_data["badge"],
            pin=form.cleaned_data["pin"],
            device=device_of(request),
            now=timezone.now(),
        )

    return _sign(request, form, check, "sign_in/badge.html")


def _sign(
    request: HttpRequest, form: forms.Form, check: Callable[[], Person], template: str
) -> HttpResponse:
    then = _then(request)
    if request.method != "POST" or not form.is_valid():
        status = 422 if form.is_bound else 200
        context = {
            "form": form,
            "then": then,
            "plant": the_plant(),
            "was_idle": "idle" in request.GET,
        }
        return render(request, template, context, status=status)
    try:
        person = check()
    except DomainError as error:
        form.add_error(None, str(error))
        context = {"form": form, "then": then, "plant": the_plant()}
        return render(request, template, context, status=422)
    login(request, person)
    if person.is_wall:
        request.session.set_expiry(WALL_SESSION_S)
    elif isinstance(form, BadgeForm):
        begin_at_tablet(request)
    response = HttpResponseRedirect(then)
    name_device(request, response)
    return response


def _then(request: HttpRequest) -> str:
    """Return where to go afterwards: a page of ours that was asked for, else the Shift page."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    if url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return wanted
    return resolve_url(settings.LOGIN_REDIRECT_URL)


@require_POST
def sign_off(request: HttpRequest) -> HttpResponse:
    """Sign off: the session ends, and the browser forgets this person's pages."""
    logout(request)
    response = redirect("sign-in")
    response.headers["Clear-Site-Data"] = '"cache"'
    return response
