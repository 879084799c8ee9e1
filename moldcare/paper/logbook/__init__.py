"""The logbook on paper: the month of one mold or of the plant."""

from django.utils import translation

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.logbook.month import (
    FactLine,
    LogbookEntry,
    LogbookMonth,
    PhotoLine,
    SealLine,
)
from moldcare.paper.logbook.pages import LogbookPages

__all__ = [
    "FactLine",
    "LogbookEntry",
    "LogbookMonth",
    "PhotoLine",
    "SealLine",
    "logbook_pdf",
]


def logbook_pdf(month: LogbookMonth, *, paper_size: PaperSize) -> Paper:
    """Print a month of the logbook in the plant's language; the same month, the same bytes."""
    with translation.override(month.language):
        return LogbookPages(month, paper_size=paper_size).printed()
