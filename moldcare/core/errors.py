"""Every error that the core raises, so that pages can turn each into a sentence."""


class DomainError(Exception):
    """Something that a person or a feed asked for cannot be done; the text says why."""


class NotWritable(DomainError):
    """Something cannot be written into the logbook, or read back from it, as it stands."""
