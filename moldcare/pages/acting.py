"""From a form that was sent to an act: what it refuses is said beside the form."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID, uuid5

from django import forms
from django.db import models
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.core.errors import DomainError
from moldcare.handin.models import HandIn
from moldcare.molds.models import Mold
from moldcare.molds.queries import mold_numbered
from moldcare.pages.access import answer, doing
from moldcare.pages.waiting import kind_of

Answer = TypeVar("Answer")
Record = TypeVar("Record", bound=models.Model)


def doing_again(request: HttpRequest) -> Doing:
    """Return who does something, at the instant at which this form came first.

    A time that stays empty means now. The second of two taps must mean the same now as the first,
    or it would be other content under the same name.
    """
    new = doing(request)
    if new.hand_in is None:
        return new
    first = HandIn.objects.filter(pk=new.hand_in).values_list("written_at", flat=True).first()
    return new if first is None else replace(new, now=first)


def beside(done: Doing, *, name: str) -> Doing:
    """Return the same doing for a second act of one form, with a hand-in of its own."""
    if done.hand_in is None:
        return done
    return replace(done, hand_in=uuid5(UUID(str(done.hand_in)), name))


def attempt(form: forms.BaseForm, act: Callable[[], Answer]) -> Answer | None:
    """Do the act of a valid form; put what it refuses on the form and return None."""
    if not form.is_valid():
        return None
    try:
        return act()
    except DomainError as error:
        refuse(form, error)
        return None


def refuse(form: forms.BaseForm, error: DomainError) -> None:
    """Put what an act refuses on the form, with its kind: a wrong PIN is not a wrong content."""
    form.add_error(None, forms.ValidationError(str(error), code=kind_of(error) or "refused"))


def filled(
    request: HttpRequest,
    template: str,
    context: Mapping[str, Any],
    *,
    form: forms.BaseForm,
) -> HttpResponse:
    """Show a form; one that was refused keeps what was typed and answers 422."""
    status = 422 if form.errors else 200
    return answer(request, template, {"form": form, **context}, status=status)


def mold_or_404(number: str) -> Mold:
    """Return the mold in use with this number, or the page that says there is none."""
    mold = None if "\0" in number else mold_numbered(number)
    if mold is None:
        raise Http404(_("There is no mold %(number)s.") % {"number": number[:60]})
    return mold


def row_or_404(rows: models.QuerySet[Record], pk: int, *, missing: str = "") -> Record:
    """Return the row with a key, or the page that says what is missing."""
    found = rows.filter(pk=pk).first()
    if found is None:
        raise Http404(missing)
    return found


def at_or_now(data: Mapping[str, Any], *, now: datetime, name: str = "at") -> datetime:
    """Return the instant that was typed, or now where the field stayed empty."""
    typed: datetime | None = data.get(name)
    return now if typed is None else typed


def ticked(request: HttpRequest, name: str) -> set[int]:
    """Return the keys of what was ticked; what cannot be a key is left out."""
    texts = request.POST.getlist(name)
    return {int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 16}


def is_second_tap(request: HttpRequest) -> bool:
    """Return whether the same form was written before: what it names may not be there any more."""
    key = doing_again(request).hand_in if request.method == "POST" else None
    return key is not None and HandIn.objects.filter(pk=key).exists()


def sent(request: HttpRequest) -> QueryDict | None:
    """Return what a form was sent with, None where it is only looked at."""
    return request.POST if request.method == "POST" else None
