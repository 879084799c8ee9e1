"""Every error that the core raises, so that pages can turn each into a sentence."""


class DomainError(Exception):
    """Something that a person or a feed asked for cannot be done; the text says why."""


class NotWritable(DomainError):
    """Something cannot be written into the logbook, or read back from it, as it stands."""


class ShiftsContradict(DomainError):
    """Shift patterns or exceptions cannot be worked as they stand."""


class TermsContradict(DomainError):
    """The limits of a care rule contradict each other or cannot be reached."""


class CoversInCircle(DomainError):
    """A care rule would cover itself, directly or through others."""
