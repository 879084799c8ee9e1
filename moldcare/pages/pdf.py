"""PDF documents as answers: downloads under a name, on the paper that was asked for."""

from django.http import HttpRequest, HttpResponse

from moldcare.paper.frame import PaperSize
from moldcare.plant.models import Plant


def paper_size(request: HttpRequest, *, plant: Plant) -> PaperSize:
    """Return the paper that the address asks for, else the plant's own."""
    asked = request.GET.get("paper", "")
    return PaperSize(asked if asked in {size.value for size in PaperSize} else plant.paper)


def pdf_answer(content: bytes, *, name: str) -> HttpResponse:
    """Answer with a PDF to be saved or printed."""
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Content-Security-Policy": "default-src 'self'; sandbox",
            "X-Content-Type-Options": "nosniff",
        },
    )
