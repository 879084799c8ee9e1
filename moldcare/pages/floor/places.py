"""Setting, pulling and moving a mold."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.floor import move_mold as move
from moldcare.acts.floor import open_matters, pull_mold, set_mold
from moldcare.acts.readings import ReadingAnswer
from moldcare.acts.rights import Right, may
from moldcare.molds.models import Mold
from moldcare.molds.queries import place_of
from moldcare.pages.access import page, person_of
from moldcare.pages.acting import at_or_now, attempt, doing_again, filled, mold_or_404, sent
from moldcare.pages.floor.forms import MoveForm, PullForm, SetForm
from moldcare.pages.floor.heads import head_of
from moldcare.pages.floor.readings import (
    counters_here,
    held_words,
    reading_entries,
    with_readings,
)
from moldcare.plant.models import Spot


def _written(request: HttpRequest, sentence: str, *, readings: list[ReadingAnswer]) -> None:
    messages.success(request, sentence)
    for held in held_words(readings):
        messages.warning(request, held)


def _in_press(mold: Mold, *, spot: Spot | None) -> dict[str, str] | None:
    """Return what speaks against setting or moving a mold: it is in a press."""
    if spot is None or spot.kind != Spot.Kind.PRESS:
        return None
    return {
        "head": _("It is in %(press)s.") % {"press": spot},
        "say": _("Pull it first, unless you write down what was forgotten, with its time."),
        "href": reverse("mold-pull", kwargs={"number": mold.number}),
        "label": _("Pull from %(press)s") % {"press": spot},
    }


def _in_no_press(mold: Mold, *, spot: Spot | None) -> dict[str, str] | None:
    """Return what speaks against pulling a mold: it is in no press."""
    if spot is not None and spot.kind == Spot.Kind.PRESS:
        return None
    return {
        "head": _("It is in no press."),
        "say": _("Write down the set first, unless this was forgotten, with its time."),
        "href": reverse("mold-set", kwargs={"number": mold.number}),
        "label": _("Set in a press"),
    }


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def mold_set(request: HttpRequest, number: str) -> HttpResponse:
    """Set a mold in a press, with the readings taken then."""
    mold, now = mold_or_404(number), timezone.now()
    matters = open_matters(mold, at=now)
    may_accept = may(person_of(request), Right.DEFER)
    form = SetForm(
        sent(request),
        on=counters_here(mold, press=None),
        matters=bool(matters) and may_accept,
        now=now,
    )
    done = doing_again(request)
    answer = attempt(form, lambda: _set(done, mold=mold, data=form.cleaned_data))
    if answer is not None:
        _written(request, answer[0], readings=answer[1])
        return redirect("mold", number=mold.number)
    head = head_of(mold, title=_("Set %(mold)s in a press") % {"mold": mold.number}, now=now)
    context = {
        **head,
        "against": _in_press(mold, spot=head["spot"]),
        "matters": matters,
        "may_accept": may_accept,
        "submit": _("Write down the set"),
    }
    return filled(request, "floor/set.html", context, form=form)


def _set(done: Doing, *, mold: Mold, data: dict[str, Any]) -> tuple[str, list[ReadingAnswer]]:
    press, at = data["press"], at_or_now(data, now=done.now)
    on = counters_here(mold, press=press)
    typed = [(on.own, data.get("reading")), (on.press, data.get("press_reading"))]
    _answer, readings = with_readings(
        done,
        reading_entries(typed, at=at),
        act=lambda: set_mold(
            done,
            mold=mold,
            press=press,
            at=at,
            accepts_open=data.get("accepts_open", ""),
            note=data["note"],
        ),
    )
    said = _("%(mold)s is set in %(press)s.") % {"mold": mold.number, "press": press}
    return said, readings


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def mold_pull(request: HttpRequest, number: str) -> HttpResponse:
    """Pull a mold out of its press, with the readings taken then."""
    mold, now = mold_or_404(number), timezone.now()
    place = place_of(mold)
    press = place.spot if place and place.spot.kind == Spot.Kind.PRESS else None
    on = counters_here(mold, press=press)
    form = PullForm(sent(request), on=on, now=now)
    done = doing_again(request)
    answer = attempt(form, lambda: _pull(done, mold=mold, data=form.cleaned_data))
    if answer is not None:
        _written(request, answer[0], readings=answer[1])
        return redirect("mold", number=mold.number)
    context = {
        **head_of(mold, title=_("Pull %(mold)s") % {"mold": mold.number}, now=now),
        "against": _in_no_press(mold, spot=press),
        "submit": _("Write down the pull"),
    }
    return filled(request, "floor/act.html", context, form=form)


def _pull(done: Doing, *, mold: Mold, data: dict[str, Any]) -> tuple[str, list[ReadingAnswer]]:
    at = at_or_now(data, now=done.now)
    place = place_of(mold, at=at)
    on = counters_here(mold, press=place.spot if place else None)
    typed = [(on.own, data.get("reading")), (on.press, data.get("press_reading"))]
    _answer, readings = with_readings(
        done,
        reading_entries(typed, at=at),
        act=lambda: pull_mold(
            done,
            mold=mold,
            to=data["to"],
            at=at,
            last_shot_kept={"yes": True, "no": False}.get(data["last_shot"]),
            note=data["note"],
        ),
    )
    return _("%(mold)s is pulled to %(spot)s.") % {
        "mold": mold.number,
        "spot": data["to"],
    }, readings


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def mold_move(request: HttpRequest, number: str) -> HttpResponse:
    """Move a mold to a bench, a rack or away."""
    mold, now = mold_or_404(number), timezone.now()
    form = MoveForm(sent(request))
    done = doing_again(request)
    answer = attempt(form, lambda: _move(done, mold=mold, data=form.cleaned_data, now=done.now))
    if answer is not None:
        messages.success(request, answer)
        return redirect("mold", number=mold.number)
    head = head_of(mold, title=_("Move %(mold)s") % {"mold": mold.number}, now=now)
    against = _in_press(mold, spot=head["spot"])
    context = {**head, "against": against, "submit": _("Write down the move")}
    return filled(request, "floor/act.html", context, form=form)


def _move(done: Doing, *, mold: Mold, data: dict[str, Any], now: datetime) -> str:
    move(done, mold=mold, to=data["to"], at=at_or_now(data, now=now), note=data["note"])
    return _("%(mold)s is moved to %(spot)s.") % {"mold": mold.number, "spot": data["to"]}
