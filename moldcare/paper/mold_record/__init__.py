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
from moldcare.paper.mold_record.spacing import SPACINGS
from moldcare.paper.photo import small_photo

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
    """Print the record of a mold in the plant's language, on one page where it can be.

    What does not even fit set close goes on over more pages, and is set wide then.
    """
    plate = record.marking.photo
    photo = small_photo(plate) if plate is not None else None
    with translation.override(record.language):
        papers = (
            MoldRecordPages(record, photo=photo, paper_size=paper_size, spacing=spacing).printed()
            for spacing in SPACINGS
        )
        widest = next(papers)
        if widest.pages == 1:
            return widest
        return next((paper for paper in papers if paper.pages == 1), widest)
