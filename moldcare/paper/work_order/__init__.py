"""The work order on paper: everything for the work and its record, without any screen."""

from django.utils import translation

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.work_order.document import (
    AS_FOUND_GRADES,
    DueState,
    Grade,
    Meaning,
    PicturePair,
    PlannedSupply,
    StepKind,
    WorkOrderDocument,
    WorkOrderStep,
    WorkOrderTask,
)
from moldcare.paper.work_order.pages import WorkOrderPages

__all__ = [
    "AS_FOUND_GRADES",
    "DueState",
    "Grade",
    "Meaning",
    "PicturePair",
    "PlannedSupply",
    "StepKind",
    "WorkOrderDocument",
    "WorkOrderStep",
    "WorkOrderTask",
    "work_order_pdf",
]


def work_order_pdf(document: WorkOrderDocument, *, paper_size: PaperSize) -> Paper:
    """Print a work order in the plant's language."""
    with translation.override(document.language):
        return WorkOrderPages(document, paper_size=paper_size).printed()
