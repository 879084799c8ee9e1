"""The Shift page and the Wall."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.rights import Right, may
from moldcare.core.errors import DomainError
from moldcare.molds.queries import molds_in_use
from moldcare.pages.access import answer, calendar_of, page, person_of, plant_of
from moldcare.pages.orders.choosing import make_chosen
from moldcare.pages.shift.board import ShiftBoard, shift_board
from moldcare.pages.words import minutes_words, moment_words, tasks_words

# digits of the largest key that a database gives
LONGEST_KEY = 18


@page(writes=Right.HAND_OUT_ORDERS)
def shift(request: HttpRequest) -> HttpResponse:
    """Show the running shift; make orders of what is ticked."""
    if request.method == "POST":
        return _orders(request)
    board = _board(request)
    return answer(request, "shift/shift.html", _context(request, board))


@page()
def wall(request: HttpRequest) -> HttpResponse:
    """Show the same for a big screen: no controls, refreshed by itself."""
    board = _board(request)
    return answer(request, "shift/wall.html", _context(request, board))


def _board(request: HttpRequest) -> ShiftBoard:
    return shift_board(
        now=timezone.now(),
        calendar=calendar_of(request),
        clock_error=timedelta(seconds=plant_of(request).clock_error_s),
    )


def _context(request: HttpRequest, board: ShiftBoard) -> dict[str, Any]:
    running = calendar_of(request).shift_at(board.now)
    lists = (board.at_press, board.on_bench, board.coming_down)
    entries = [entry for section in lists for entry in section.entries]
    pressing = [entry for entry in entries if entry.lines]
    tasks = sum(len(entry.lines) for entry in pressing)
    minutes = sum(section.minutes for section in lists)
    is_empty = not entries and not board.hands
    return {
        "page_title": _("Shift"),
        "nav_here": "shift",
        "board": board,
        "running": running,
        "tasks_said": tasks_words(tasks, molds=len(pressing)) if tasks else "",
        "minutes_said": minutes_words(minutes),
        "until_said": moment_words(board.ahead, now=board.now),
        "may_order": may(person_of(request), Right.HAND_OUT_ORDERS),
        "is_empty": is_empty,
        # asked only where there is nothing to show
        "is_new": is_empty and not molds_in_use().exists(),
    }


def _orders(request: HttpRequest) -> HttpResponse:
    """Write one order a mold of the ticked rules."""
    rules = [
        int(text)
        for text in request.POST.getlist("task")
        if text.isascii() and text.isdecimal() and len(text) <= LONGEST_KEY
    ]
    if not rules:
        messages.error(request, _("Tick at least one task first. Nothing was written."))
        return redirect("shift")
    try:
        made = make_chosen(request, rules=rules)
    except DomainError as error:
        messages.error(request, str(error))
        return redirect("shift")
    messages.success(
        request,
        ngettext(
            "Order %(numbers)s is written.", "Orders %(numbers)s are written.", len(made.numbers)
        )
        % {"numbers": ", ".join(str(number) for number in made.numbers)},
    )
    if len(made.numbers) == 1:
        return redirect("order", number=made.numbers[0])
    return redirect("orders")
