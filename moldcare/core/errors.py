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


class TableRefused(DomainError):
    """A table that came in as a file cannot be read as it stands.

    Parameters
    ----------
    sentence : str
        What is wrong and what would help.
    row : int or None
        The first row concerned, counted from 1 as a spreadsheet does.
    """

    def __init__(self, sentence: str, *, row: int | None = None) -> None:
        super().__init__(sentence)
        self.row = row


class WrongFile(TableRefused):
    """The file is no table: a PDF, a photo, an old or locked workbook, or empty."""


class UnreadableText(TableRefused):
    """The bytes of the file fit no encoding, or not the one that was chosen."""


class ReadingRefused(DomainError):
    """A counter reading cannot be taken in as it stands; nothing was stored."""


class FactsContradict(DomainError):
    """Fittings, stays or decisions that counting rests on contradict each other."""


class ListUnclear(DomainError):
    """A list that somebody typed, of numbers or of days, cannot be read as it stands."""


class LabelsRefused(DomainError):
    """Labels cannot be printed on the stock that was chosen."""
