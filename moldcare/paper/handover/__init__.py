"""What one shift passes to the next, on paper."""

from django.utils import translation

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.handover.document import HandoverDocument, HandoverPart, HandoverSignature
from moldcare.paper.handover.pages import HandoverPages

__all__ = ["HandoverDocument", "HandoverPart", "HandoverSignature", "handover_pdf"]


def handover_pdf(document: HandoverDocument, *, paper_size: PaperSize) -> Paper:
    """Print a handover in the plant's language."""
    with translation.override(document.language):
        return HandoverPages(document, paper_size=paper_size).printed()
