"""What all forms of the setup share: fields in groups, and the page around a form."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from moldcare.pages.acting import attempt, doing_again, filled
from moldcare.pages.fields import LinesField
from moldcare.pages.seen import refuse_if_changed, seen_of

Groups = tuple[tuple[str | Promise, tuple[tuple[str, ...], ...]], ...]


class GroupedForm(forms.Form):
    """A form whose fields stand in groups, some of them side by side.

    `GROUPS` holds the title of each group and its lines of fields; a field that a form does not
    have is left out.
    """

    GROUPS: Groups = ()

    @property
    def groups(self) -> list[dict[str, Any]]:
        """The groups with their fields bound, as the template draws them."""
        found = []
        for title, lines in self.GROUPS:
            bound = [[self[name] for name in line if name in self.fields] for line in lines]
            if any(bound):
                found.append({"title": title, "lines": [line for line in bound if line]})
        return found


class WhyForm(forms.Form):
    """Ask why."""

    reason = LinesField(
        most=200,
        rows=2,
        label=gettext_lazy("Why"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )


def values_of(form: forms.Form, *, names: tuple[str, ...]) -> dict[str, Any]:
    """Return what a valid form holds of some fields.

    All of it, changed or not: two taps then send the same, and the act finds what is different.
    """
    return {name: form.cleaned_data[name] for name in names if name in form.cleaned_data}


def form_page(
    request: HttpRequest,
    form: forms.Form,
    *,
    title: str,
    submit: str,
    back: str,
    lead: str = "",
    changes_what_is: bool = False,
    template: str = "setup/act.html",
    **more: Any,
) -> HttpResponse:
    """Show a form of the setup; `back` is the address that leaves it."""
    context = {
        "page_title": title,
        "nav_here": "setup",
        "title": title,
        "lead": lead,
        "submit": submit,
        "back": back,
        "seen": seen_of(form) if changes_what_is else "",
        **more,
    }
    return filled(request, template, context, form=form)


def act_page(
    request: HttpRequest,
    form: forms.Form,
    *,
    act: Callable[[], object],
    said: Callable[[], str],
    back: str,
    then: str = "",
    changes_what_is: bool = False,
    **shown: Any,
) -> HttpResponse:
    """Do the act of a sent form, say so and go back; show the form where nothing was done.

    `said` is asked once the act is done. `then` is where it goes on, if not `back`. All else is
    what `form_page` shows.
    """
    if changes_what_is:
        refuse_if_changed(request, form, done=doing_again(request))
    if attempt(form, act) is not None:
        messages.success(request, said())
        return redirect(then or back)
    return form_page(request, form, back=back, changes_what_is=changes_what_is, **shown)
