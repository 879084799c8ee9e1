"""Reads a printed document back."""

import io
from collections.abc import Iterator

from pypdf import PdfReader
from pypdf.generic import DictionaryObject

from moldcare.paper.frame import Paper


def page_texts(paper: Paper) -> list[str]:
    """Give the text of each page."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(paper.content)).pages]


def whole_text(paper: Paper) -> str:
    """Give the text of all pages, every run of blanks as one."""
    return " ".join(" ".join(page_texts(paper)).replace("\u00a0", " ").split())


def squeezed(text: str) -> str:
    """Drop all blanks: what is left does not depend on where lines break."""
    return "".join(text.replace("\u00a0", " ").split())


def fonts(paper: Paper) -> Iterator[tuple[str, bool]]:
    """Give each font that a page names, and whether its bytes are in the file."""
    for page in PdfReader(io.BytesIO(paper.content)).pages:
        resources = page["/Resources"]
        assert isinstance(resources, DictionaryObject)
        named = resources["/Font"].get_object()
        assert isinstance(named, DictionaryObject)
        for reference in named.values():
            font = reference.get_object()
            descriptor = font.get("/FontDescriptor")
            is_embedded = descriptor is not None and "/FontFile2" in descriptor.get_object()
            yield str(font["/BaseFont"]), is_embedded
