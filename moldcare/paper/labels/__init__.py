"""Labels with codes to scan, on sheets and single labels by their measures."""

from django.utils import translation

from moldcare.paper.frame import Paper
from moldcare.paper.labels.document import Label, LabelsDocument
from moldcare.paper.labels.layout import BarsLeftOut, label_layout
from moldcare.paper.labels.pages import (
    PlannedLabel,
    checked_labels,
    drawn_labels,
    drawn_ruler_sheet,
    planned_labels,
)
from moldcare.paper.labels.stock import STOCKS, LabelStock, stock_named, stocks_for

__all__ = [
    "STOCKS",
    "BarsLeftOut",
    "Label",
    "LabelStock",
    "LabelsDocument",
    "PlannedLabel",
    "checked_labels",
    "label_layout",
    "labels_pdf",
    "planned_labels",
    "ruler_sheet_pdf",
    "stock_named",
    "stocks_for",
]


def labels_pdf(document: LabelsDocument) -> Paper:
    """Print labels in the plant's language; `LabelsRefused` says what does not fit."""
    with translation.override(document.language):
        return drawn_labels(document)


def ruler_sheet_pdf(document: LabelsDocument) -> Paper:
    """Print the sheet that shows how far a printer is off; labels are not looked at."""
    with translation.override(document.language):
        return drawn_ruler_sheet(document)
