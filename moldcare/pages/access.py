"""What every view begins with: who may see it, which methods it answers, what was handed in."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from uuid import UUID, uuid4

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotAllowed
from django.shortcuts import render
from django.utils import timezone

from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right, may
from moldcare.core.shifts import ShiftCalendar
from moldcare.pages.waiting import is_from_outbox, outbox_of, take_in
from moldcare.plant.models import Person, Plant

Arguments = ParamSpec("Arguments")
View = Callable[Concatenate[HttpRequest, Arguments], HttpResponseBase]


@dataclass(frozen=True, kw_only=True, slots=True)
class Guard:
    """What a view asks of whoever opens it; tests read it from the view."""

    looks: Right
    writes: Right | None
    methods: tuple[str, ...]
    waits: bool = False


def page(
    *, looks: Right = Right.LOOK, writes: Right | None = None, waits: bool = False
) -> Callable[[View[Arguments]], View[Arguments]]:
    """Guard a view: sign in first, `looks` to see it, `writes` to send its form.

    Without `writes` the view answers GET only. GET never writes. With `waits` its form may have
    waited on a tablet: the outbox sends it as its author's, whoever is signed in by now.
    """
    methods = ("GET", "HEAD") if writes is None else ("GET", "HEAD", "POST")

    def guarded(view: View[Arguments]) -> View[Arguments]:
        @wraps(view)
        def inner(
            request: HttpRequest, /, *args: Arguments.args, **kwargs: Arguments.kwargs
        ) -> HttpResponseBase:
            if waits and writes is not None and is_from_outbox(request):
                return take_in(
                    request,
                    writes=writes,
                    plant=plant_of(request),
                    view=lambda: view(request, *args, **kwargs),
                )
            if not request.user.is_authenticated:
                if request.headers.get("HX-Request"):
                    # the sign-in page must not land inside the page that asked for a part
                    return HttpResponse(status=401)
                return redirect_to_login(request.get_full_path())
            needed = writes if request.method == "POST" and writes is not None else looks
            if not may(request.user, needed):
                return render(request, "403.html", {"role": request.user}, status=403)
            if request.method not in methods:
                return HttpResponseNotAllowed(methods)
            return view(request, *args, **kwargs)

        inner.guard = Guard(  # type: ignore[attr-defined]
            looks=looks, writes=writes, methods=methods, waits=waits
        )
        return inner

    return guarded


def person_of(request: HttpRequest) -> Person:
    """Return who is signed in; only behind `page`."""
    user = request.user
    if not isinstance(user, Person):
        raise TypeError("Only a guarded view asks who is signed in.")
    return user


def plant_of(request: HttpRequest) -> Plant:
    """Return the plant, as the middleware read it once for this request."""
    plant: Plant = request.plant  # type: ignore[attr-defined]
    return plant


def calendar_of(request: HttpRequest) -> ShiftCalendar:
    """Return the plant's worked shifts, as the middleware read them for this request."""
    calendar: ShiftCalendar = request.calendar  # type: ignore[attr-defined]
    return calendar


def doing(request: HttpRequest, *, person: Person | None = None) -> Doing:
    """Return who does something now, under the UUID that the form carries.

    A form without a UUID, or with a broken one, gets none that a client could repeat. What waited
    on a tablet brings along when it was done there.
    """
    outbox = outbox_of(request)
    return Doing(
        person=person or person_of(request),
        now=timezone.now(),
        hand_in=hand_in_of(request.POST.get("hand_in", "")),
        waited=outbox.waited if outbox is not None else None,
    )


def hand_in_of(text: str) -> UUID | None:
    """Return the client's UUID, or None where there is none that can be read."""
    try:
        return UUID(text)
    except ValueError:
        return None


def is_pack(request: HttpRequest) -> bool:
    """Return whether the page is made to be kept on a tablet: it names nobody."""
    return bool(getattr(request, "is_pack", False))


def new_hand_in() -> str:
    """Return a UUID for a form that is about to be shown; a double tap sends it twice."""
    return str(uuid4())


def answer(
    request: HttpRequest, template: str, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render a page with a fresh hand-in UUID, keeping the one that a refused form came with.

    An outbox looks at no page: what the form says is kept for its answer.
    """
    outbox = outbox_of(request)
    if outbox is not None:
        if status >= 400:
            outbox.note(context)
        return HttpResponse(status=status)
    fresh = "" if is_pack(request) else new_hand_in()
    context.setdefault("hand_in", request.POST.get("hand_in") or fresh)
    return render(request, template, context, status=status)
