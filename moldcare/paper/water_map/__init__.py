"""The water map of a mold: which hose goes where, to be taken to the press."""

from django.utils import translation

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.water_map.document import WaterMapDocument
from moldcare.paper.water_map.pages import WaterMapPages

__all__ = ["WaterMapDocument", "water_map_pdf"]


def water_map_pdf(document: WaterMapDocument, *, paper_size: PaperSize) -> Paper:
    """Print the water map of a mold in the plant's language."""
    with translation.override(document.language):
        return WaterMapPages(document, paper_size=paper_size).printed()
