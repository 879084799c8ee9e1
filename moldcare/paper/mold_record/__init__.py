"""The record of one mold on a page, for whoever audits it."""

from django.utils import translation

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.mold_record.document import (
    DueState,
    Fact,
    MarkingLine,
    MoldRecord,
    RuleLine,
    Section,
)
from moldcare.paper.mold_record.pages import MoldRecordPages

__all__ = [
    "DueState",
    "Fact",
    "MarkingLine",
    "MoldRecord",
    "RuleLine",
    "Section",
    "mold_record_pdf",
]


def mold_record_pdf(record: MoldRecord, *, paper_size: PaperSize) -> Paper:
    """Print the record of a mold in the plant's language."""
    with translation.override(record.language):
        return MoldRecordPages(record, paper_size=paper_size).printed()
