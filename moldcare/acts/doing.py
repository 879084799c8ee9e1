"""Who does something, when, and under which client UUID: and that it happens once."""

import hashlib
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.exceptions import FieldError, ValidationError
from django.db import IntegrityError, models, transaction
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from moldcare.acts.conditions import NotWorkedOut, holds
from moldcare.acts.errors import DoesNotFit, HandedInDifferently, Incomplete
from moldcare.acts.words import local_words
from moldcare.core.chain import canonical_bytes
from moldcare.core.errors import DomainError
from moldcare.handin.models import HandIn
from moldcare.plant.models import Person, Plant

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True, slots=True)
class Waited:
    """How something waited on a tablet before it was handed in.

    Parameters
    ----------
    at : datetime
        When it was filled in, by the server's clock.
    worked_at : datetime
        The same by the tablet's clock as it stood.
    offset_ms : int
        What was added to the tablet's clock.
    device : str
        The tablet.
    content_hash : str
        SHA-256 of all that was sent: the same again is not looked at again.
    """

    at: datetime
    worked_at: datetime
    offset_ms: int
    device: str
    content_hash: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Doing:
    """A person doing something now.

    Parameters
    ----------
    person : Person
        Who does it.
    now : datetime
        The server's instant, read once by the page, command or feed.
    hand_in : UUID or None
        What the client named this write; None where no client repeats it (a command, the demo).
    waited : Waited or None
        What a tablet says of itself, where this was filled in on one and waited there.
    """

    person: Person
    now: datetime
    hand_in: UUID | None = None
    waited: Waited | None = None

    @property
    def at(self) -> datetime:
        """When the work was done: now, or when it was filled in on a tablet that had no net."""
        return self.now if self.waited is None else self.waited.at


def once(
    doing: Doing,
    act: str,
    body: Mapping[str, Any],
    do: Callable[[], dict[str, Any]],
) -> dict[str, Any]:
    """Do something in one transaction, once for each client UUID, and return its answer.

    The same UUID with the same body gets the same answer and writes nothing; with another body it
    is refused and logged. Two at the same moment: the second finds the first's row and answers
    with it.

    Raises
    ------
    HandedInDifferently
        If the UUID came before with another act, person or body.
    """
    if doing.hand_in is None:
        with transaction.atomic():
            return do()
    body_hash = hashlib.sha256(canonical_bytes(_plain(body, now=doing.now))).hexdigest()
    earlier = _earlier(doing, act, body_hash)
    if earlier is not None:
        return earlier
    try:
        with transaction.atomic():
            answer = do()
            HandIn.objects.create(
                id=doing.hand_in,
                person=doing.person,
                act=act,
                body_hash=body_hash,
                answer=answer,
                written_at=doing.now,
                **_as_it_waited(doing.waited),
            )
            return answer
    except (IntegrityError, DomainError):
        # the other of two equal writes may have won while this one was at it
        earlier = _earlier(doing, act, body_hash)
        if earlier is None:
            raise
        return earlier


def _as_it_waited(waited: Waited | None) -> dict[str, Any]:
    if waited is None:
        return {}
    return {
        "worked_at": waited.worked_at,
        "offset_ms": waited.offset_ms,
        "device": waited.device,
        "content_hash": waited.content_hash,
    }


def _earlier(doing: Doing, act: str, body_hash: str) -> dict[str, Any] | None:
    if doing.hand_in is None:
        return None
    row = HandIn.objects.filter(pk=doing.hand_in).first()
    if row is None:
        return None
    if row.act != act or row.body_hash != body_hash or row.person_id != doing.person.pk:
        log.warning("hand-in %s came again with other content (%s)", doing.hand_in, act)
        raise HandedInDifferently(
            _(
                "This form was sent before with other content. What was sent first is written; "
                "open the page again to write something new."
            )
        )
    answer: dict[str, Any] = row.answer
    return answer


def _plain(value: Any, *, now: datetime) -> Any:
    """Return the value as JSON without floats, so that its hash is the same everywhere.

    An empty time means now, and two taps have each a now of its own. So an instant that was taken
    from the server's clock, to the microsecond, counts as its distance from now.
    """
    if isinstance(value, Mapping):
        return {str(key): _plain(inner, now=now) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner, now=now) for inner in value]
    if isinstance(value, datetime) and value.microsecond:
        away = value - now
        if not away.microseconds:
            return f"now {away.total_seconds():+.0f} s"
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, int) and abs(value) < 2**53:
        return value
    if isinstance(value, models.Model):
        return value.pk
    return str(value)


def check_happened(at: datetime, *, doing: Doing, plant: Plant) -> None:
    """Raise DoesNotFit when something is said to have happened in the future."""
    if at > doing.now + timedelta(seconds=plant.clock_error_s):
        raise DoesNotFit(
            _("%(at)s is in the future. Check the date and the time; nothing was written.")
            % {"at": local_words(at, plant=plant)}
        )


def checked(row: models.Model, *, exclude: tuple[str, ...] = ()) -> None:
    """Raise Incomplete, naming the fields, unless the row holds what its fields allow.

    SQLite keeps any length and any value; this is where both engines get the same answer.
    """
    if _is_plainly_good(row, exclude=exclude):
        return
    try:
        row.full_clean(exclude=exclude, validate_constraints=True)
    except ValidationError as error:
        lines = []
        in_words = _constraints_in_words(row)
        for name, messages in error.message_dict.items():
            label = "" if name == "__all__" else f"{_label(row, name)}: "
            lines += [f"{label}{in_words.get(message, message)}" for message in messages]
        raise Incomplete(" ".join(lines)) from error


def _is_plainly_good(row: models.Model, *, exclude: tuple[str, ...]) -> bool:
    """Return whether a row may stand, working out its check constraints here.

    Django asks the database a query a constraint, which makes an act as slow as its rows have
    constraints. On the least doubt the answer is no, and the slow way finds the words.
    """
    left_out = set(exclude)
    try:
        row.full_clean(exclude=exclude, validate_constraints=False)
        for constraint in row._meta.constraints:
            if not isinstance(constraint, models.CheckConstraint):
                constraint.validate(type(row), row, exclude=left_out)
                continue
            condition = models.Q(constraint.condition)
            if condition.referenced_base_fields & left_out:
                continue
            if holds(condition, row) is False:
                return False
    except (ValidationError, FieldError, NotWorkedOut):
        return False
    return True


def _label(row: models.Model, name: str) -> str:
    field = row._meta.get_field(name)
    return str(capfirst(str(getattr(field, "verbose_name", name))))


def _constraints_in_words(row: models.Model) -> dict[str, str]:
    """Return what to say in place of the name of a check that a row breaks."""
    found: dict[str, str] = {}
    for constraint in row._meta.constraints:
        if not isinstance(constraint, models.CheckConstraint):
            continue
        about = sorted(models.Q(constraint.condition).referenced_base_fields)
        labels = ", ".join(_label(row, name) for name in about)
        said = (
            _("%(fields)s: this cannot stand.")
            if len(about) == 1
            else _("%(fields)s: these do not fit together.")
        )
        if constraint.violation_error_message == constraint.default_violation_error_message:
            found[str(constraint.get_violation_error_message())] = said % {"fields": labels}
    return found
