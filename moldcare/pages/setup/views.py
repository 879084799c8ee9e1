"""What can be set up here."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right, may
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.core.errors import DomainError
from moldcare.pages.access import answer, doing, page, person_of, plant_of
from moldcare.pages.setup.counts import plant_counts
from moldcare.pages.setup.home import setup_parts


@page(writes=Right.EDIT_RULES)
def setup(request: HttpRequest) -> HttpResponse:
    """List what can be set up; load the starting sets."""
    if request.method == "POST":
        return _load(request)
    person, plant = person_of(request), plant_of(request)
    counts = plant_counts(plant)
    context = {
        "page_title": _("Setup"),
        "nav_here": "setup",
        "groups": setup_parts(counts, plant=plant, person=person),
        "counts": counts,
        "may": {right.value: may(person, right) for right in Right},
    }
    return answer(request, "setup/setup.html", context)


def _load(request: HttpRequest) -> HttpResponse:
    """Load the families and rule sets that a plant begins with; go back to where it was asked."""
    then = "setup-begin" if "begin" in request.POST else "setup"
    try:
        loaded = load_starting_sets(doing(request))
    except DomainError as error:
        messages.error(request, str(error))
        return redirect(then)
    messages.success(
        request,
        _("%(rules)s rules in %(sets)s sets are loaded: starting values, to be checked by you.")
        % {"rules": loaded.rules, "sets": loaded.rule_sets}
        if loaded.rules
        else _("All starting sets were there already; nothing was changed."),
    )
    return redirect(then)
