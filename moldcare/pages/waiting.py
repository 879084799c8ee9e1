"""What waited on a tablet and is handed in now: whose it is, when it was done, and the answer.

The outbox of a tablet sends the form of a page to the page's own address, with the header
`X-Outbox`. It is answered with JSON that names the same UUID, and nothing else counts as an answer:

- `taken`: it is written, all of it;
- `refused`: it is not, and `said` says why; a person has to do something;
- `waits`: not now; `why` says for what (`author`, `pin`, `clock`, `slow`).

Who did it is the author of what waited, never whoever is signed in when the net is back.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django import forms
from django.contrib.messages import constants, get_messages
from django.contrib.messages.storage.base import BaseStorage
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.utils import timezone, translation
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from moldcare.acts.doing import Waited
from moldcare.acts.rights import Right, may
from moldcare.acts.sign_in import SignInRefused, TooManyTries
from moldcare.core.errors import DomainError
from moldcare.handin.clocks import ClockChanged, TabletTime, corrected
from moldcare.handin.models import HandIn
from moldcare.handin.passes import bearer_of
from moldcare.handin.sealing import SealBroken, open_seal
from moldcare.pages.device import device_of
from moldcare.plant.models import Person, Plant

HEADER = "X-Outbox"
SEAL = "-seal"
TAKEN, REFUSED, WAITS = "taken", "refused", "waits"
PIN, SLOW, CLOCK, AUTHOR = "pin", "slow", "clock", "author"
# a network is not that slow, and a request is not looked at twice
_SENT_AND_COME = timedelta(seconds=60)
_NOT_CONTENT = frozenset({"csrfmiddlewaretoken"})

View = Callable[[], HttpResponseBase]


@dataclass(kw_only=True, slots=True)
class Outbox:
    """A request of an outbox, and what the view says about it."""

    waited: Waited
    wrong: list[str] = field(default_factory=list)
    kinds: set[str] = field(default_factory=set)
    is_partly: bool = False

    def note(self, context: Mapping[str, Any]) -> None:
        """Keep what a page that was to be shown says of a form that was refused."""
        said = context.get("refused_said")
        if said:
            self.wrong += [str(each) for each in said]
            return
        shown = context.get("shown")
        refused = getattr(getattr(shown, "refused", None), "form", None)
        for form in (refused, context.get("form")):
            if isinstance(form, forms.BaseForm) and form.errors:
                self._note_form(form)
                return

    def _note_form(self, form: forms.BaseForm) -> None:
        for name, errors in form.errors.as_data().items():
            label = "" if name not in form.fields else str(form.fields[name].label or "")
            for error in errors:
                self.kinds.add(str(error.code or ""))
                self.wrong += [f"{label}: {each}" if label else each for each in error.messages]


class _Kept(BaseStorage):
    """Messages of one request, for its answer; the session's are whoever is signed in's."""

    def _get(self, *args: Any, **kwargs: Any) -> tuple[list[Any], bool]:
        return [], True

    def _store(self, messages: Any, response: Any, *args: Any, **kwargs: Any) -> list[Any]:
        return []


def kind_of(error: DomainError) -> str:
    """Return what the refusal of an act waits for, where it is not the content."""
    if isinstance(error, TooManyTries):
        return SLOW
    return PIN if isinstance(error, SignInRefused) else ""


def outbox_of(request: HttpRequest) -> Outbox | None:
    """Return what the outbox says of this request; None for a form that was sent plainly."""
    found: Outbox | None = getattr(request, "outbox", None)
    return found


def is_from_outbox(request: HttpRequest) -> bool:
    """Return whether an outbox sent this."""
    return request.method == "POST" and HEADER in request.headers


class NotNow(Exception):
    """What waited cannot be looked at: the answer that says for what it waits, or why."""

    def __init__(self, state: str, *, why: str, said: str, times: Sequence[datetime] = ()) -> None:
        super().__init__(said)
        self.state, self.why, self.said, self.times = state, why, said, times


def acknowledged(
    hand_in: str,
    *,
    state: str,
    said: str = "",
    why: str = "",
    times: Sequence[datetime] = (),
) -> JsonResponse:
    """Return the one kind of answer that an outbox takes for one."""
    answer: dict[str, Any] = {"hand_in": hand_in, "state": state, "said": said, "why": why}
    if times:
        answer["times"] = [each.isoformat() for each in times]
    return JsonResponse(answer)


def take_in(request: HttpRequest, *, writes: Right, plant: Plant, view: View) -> HttpResponseBase:
    """Let the view judge what waited, as its author would have sent it, and say what it said."""
    hand_in = _hand_in(request)
    if not hand_in:
        return acknowledged("", state=REFUSED, said=_("This was not sent by an outbox of ours."))
    bearer = bearer_of(request.headers.get("X-Outbox-Pass", ""), device=device_of(request))
    if bearer is None or (bearer.person.is_active and not bearer.is_good):
        said = _("It waits for who filled it in: sign on at this tablet, and it goes in.")
        return acknowledged(hand_in, state=WAITS, why=AUTHOR, said=said)
    author = bearer.person
    content = content_hash(request)
    was_in = HandIn.objects.filter(pk=hand_in, person=author, content_hash=content).exists()
    with translation.override(author.language or plant.language):
        try:
            waited = _waited(request, author=author, writes=writes, plant=plant, content=content)
            _unseal(request, hand_in=hand_in)
        except NotNow as error:
            if was_in:
                return _was_in(hand_in)
            return acknowledged(
                hand_in, state=error.state, why=error.why, said=error.said, times=error.times
            )
        outbox = Outbox(waited=waited)
        said, wrong = _seen(request, outbox=outbox, author=author, view=view)
        if not wrong:
            return acknowledged(hand_in, state=TAKEN, said=said)
        if was_in and not outbox.is_partly:
            return _was_in(hand_in)
        for kind in (SLOW, PIN):
            if kind in outbox.kinds:
                return acknowledged(hand_in, state=WAITS, why=kind, said=wrong)
        return acknowledged(hand_in, state=REFUSED, said=f"{wrong} {said}".strip())


def _was_in(hand_in: str) -> JsonResponse:
    """Say that all of it was written before: the reply was lost on its way."""
    return acknowledged(hand_in, state=TAKEN, said=_("It was written down before."))


def _seen(request: HttpRequest, *, outbox: Outbox, author: Person, view: View) -> tuple[str, str]:
    """Show the form to its view as its author's; return what it says, and what is wrong."""
    request.outbox = outbox  # type: ignore[attr-defined]
    request.user = author
    request._messages = _Kept(request)  # type: ignore[attr-defined]
    try:
        status = view().status_code
    except DomainError as error:
        status, outbox.kinds = 422, {kind_of(error)}
        outbox.wrong.append(str(error))
    except Http404 as error:
        status = 404
        first = error.args[0] if error.args else ""
        outbox.wrong.append(first if isinstance(first, str) else "")
    except PermissionDenied:
        status = 403
    said: list[str] = []
    wrong = list(outbox.wrong)
    for message in get_messages(request):
        (wrong if message.level >= constants.ERROR else said).append(str(message))
    words = " ".join(each for each in wrong if each)
    if status >= 400 and not words:
        words = _("It does not fit any more.")
    return " ".join(said), words


def _waited(
    request: HttpRequest, *, author: Person, writes: Right, plant: Plant, content: str
) -> Waited:
    """Return when it was done, by which tablet; raise NotNow where that is not known."""
    now = timezone.now()
    if not may(author, writes):
        said = _("%(name)s may not hand this in any more. A lead can look at it.")
        raise NotNow(REFUSED, why="rights", said=said % {"name": author.name})
    time = _time(request, now=now)
    if time is None:
        said = _("The tablet's clock was not measured; it is tried again.")
        raise NotNow(WAITS, why="measure", said=said)
    try:
        at = corrected(time, now=now, tolerance=timedelta(seconds=plant.clock_error_s))
    except ClockChanged as error:
        said = _("The clock of this tablet was changed while this waited. Say when it was done.")
        raise NotNow(WAITS, why=CLOCK, said=said, times=error.candidates) from error
    return Waited(
        at=at,
        worked_at=time.worked_at,
        offset_ms=time.offset_ms,
        device=device_of(request),
        content_hash=content,
    )


def _hand_in(request: HttpRequest) -> str:
    """Return the UUID that header and form agree on, as it is always written; else nothing."""
    try:
        named = UUID(request.headers.get(HEADER, ""))
        return str(named) if named == UUID(request.POST.get("hand_in", "")) else ""
    except ValueError:
        return ""


def _time(request: HttpRequest, *, now: datetime) -> TabletTime | None:
    """Return the tablet's times; None where its measured offset does not hold now."""
    worked_at = _instant(request, "X-Outbox-Worked-At")
    sent_at = _instant(request, "X-Outbox-Sent-At")
    offset_ms = _milliseconds(request, "X-Outbox-Offset")
    if worked_at is None or sent_at is None or offset_ms is None:
        return None
    try:
        if abs(sent_at + timedelta(milliseconds=offset_ms) - now) > _SENT_AND_COME:
            return None
    except OverflowError:
        return None
    return TabletTime(
        worked_at=worked_at,
        offset_ms=offset_ms,
        offset_then_ms=_milliseconds(request, "X-Outbox-Offset-Then"),
        confirmed_at=_instant(request, "X-Outbox-Confirmed-At"),
    )


def _instant(request: HttpRequest, name: str) -> datetime | None:
    return instant_of(request.headers.get(name, ""))


def instant_of(text: str) -> datetime | None:
    """Return an instant that a tablet sent, with its zone; None where it is none."""
    try:
        found = parse_datetime(text)
    except ValueError:
        return None
    # far from the ends of time, so that an offset can be added to it
    is_sound = found is not None and found.tzinfo is not None and 2000 < found.year < 2200
    return found if is_sound else None


# thirty years: a clock that fell back to its first day is still one
_MOST_MS = 30 * 366 * 24 * 3_600_000


def _milliseconds(request: HttpRequest, name: str) -> int | None:
    return milliseconds_of(request.headers.get(name, ""))


def milliseconds_of(text: str) -> int | None:
    """Return an offset that a tablet sent; None where it is none."""
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdecimal() and len(digits) < 16):
        return None
    return int(text) if int(digits) <= _MOST_MS else None


def _unseal(request: HttpRequest, *, hand_in: str) -> None:
    """Put sealed secrets where a form that is sent plainly has them; NotNow where one is broken."""
    sealed = [name for name in request.POST if name.endswith(SEAL)]
    if not sealed:
        return
    sent = request.POST.copy()
    for name in sealed:
        try:
            sent[name.removesuffix(SEAL)] = open_seal(str(sent[name]), hand_in=hand_in)
        except SealBroken as error:
            said = _("The PIN cannot be read any more. Sign it again on this tablet.")
            raise NotNow(WAITS, why=PIN, said=said) from error
    request.POST = sent  # type: ignore[assignment]


def content_hash(request: HttpRequest) -> str:
    """Return the hash of all that was sent, secrets and the page's token left out."""
    found = hashlib.sha256(request.path.encode())
    secret = {name.removesuffix(SEAL) for name in request.POST if name.endswith(SEAL)}
    for name in sorted(request.POST):
        if name in _NOT_CONTENT or name in secret or name.endswith(SEAL):
            continue
        for value in request.POST.getlist(name):
            found.update(f"\0{name}\0{value}".encode())
    for name in sorted(request.FILES):
        for upload in request.FILES.getlist(name):
            found.update(f"\0{name}\0".encode())
            for chunk in upload.chunks():
                found.update(hashlib.sha256(chunk).digest())
            upload.seek(0)
    return found.hexdigest()
