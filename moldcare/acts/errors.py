"""What an act may refuse: each becomes a sentence that tells the person what to do."""

from moldcare.core.errors import DomainError


class ActRefused(DomainError):
    """An act was refused; nothing was written."""


class NotAllowed(ActRefused):
    """The person's role does not do this."""


class NotQualified(ActRefused):
    """The person lacks a qualification; a lead may override with a reason."""


class HandedInDifferently(ActRefused):
    """The same client UUID came before with other content."""


class ReadingRefused(ActRefused):
    """A reading cannot be a reading at all: nothing was stored."""


class AlreadySigned(ActRefused):
    """The order is signed; what is in the logbook stays."""


class NotFound(ActRefused):
    """What the act is about is not there, or not any more."""


class DoesNotFit(ActRefused):
    """The act contradicts what is known: a mold set twice, a place it is not in."""


class Incomplete(ActRefused):
    """Something that the act needs was not given."""


class LookedOtherwise(ActRefused):
    """What was looked at before is another thing by now; it must be looked at again."""
