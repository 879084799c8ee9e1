"""Sets a handover: a row a subject, the note, and both signatures."""

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext as _
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from moldcare.paper.blocks import Drawn, Grid
from moldcare.paper.frame import FootLine, PageHead, Paper, PaperSize, build_paper
from moldcare.paper.handover.document import HandoverDocument, HandoverSignature
from moldcare.paper.ledger import LedgerRow
from moldcare.paper.styles import (
    BODY,
    INK,
    LABEL,
    MARGIN_SMALL,
    SMALL,
    STRONG,
    led,
    paragraph,
    paragraphs,
)
from moldcare.paper.typefaces import Typesetter

# room for a hand's signature, and the width of what is signed on
SIGNED_BY_HAND = 26.0
MARGIN_ROOM = 92.0
BETWEEN_LINES = 2.5


class HandoverPages:
    """One handover being set."""

    def __init__(self, document: HandoverDocument, *, paper_size: PaperSize) -> None:
        self.document, self.paper_size = document, paper_size
        self.typesetter = Typesetter()

    def printed(self) -> Paper:
        """Set all pages; the plant's language must be the active one."""
        document = self.document
        return build_paper(
            self._story(),
            typesetter=self.typesetter,
            head=PageHead(plate=document.shift, title=_("Handover"), subtitle=document.at),
            foot=self._foot(),
            paper_size=self.paper_size,
            language=document.language,
            subject=f"{document.shift} {document.at}",
        )

    def _story(self) -> Iterator[Flowable]:
        document = self.document
        if document.remark:
            yield self._row("", paragraphs(self.typesetter, document.remark, style=STRONG))
        for part in document.parts:
            if not part.lines:
                continue
            body: list[Flowable] = []
            for lead, text in part.lines:
                if body:
                    body.append(Spacer(0, BETWEEN_LINES))
                body.append(
                    led(self.typesetter, lead, text, style=BODY)
                    if lead
                    else self._set(text, style=BODY)
                )
            yield self._row(part.title, body)
        empty = [part.title for part in document.parts if not part.lines]
        if empty:
            yield self._row(_("Nothing to say of"), [self._set("; ".join(empty), style=SMALL)])
        note = document.note or "–"
        yield self._row(_("What else is to know"), paragraphs(self.typesetter, note, style=BODY))
        yield Spacer(0, 10)
        yield Grid([self._signature(each) for each in document.signatures], columns=2, pad=6.0)

    def _set(self, text: str, *, style: ParagraphStyle) -> Flowable:
        return paragraph(self.typesetter, text, style=style)

    def _row(self, title: str, body: Sequence[Flowable]) -> LedgerRow:
        def carried() -> list[Flowable]:
            said = _("%(title)s, continued") % {"title": title}
            return [self._set(said, style=MARGIN_SMALL)]

        margin = [self._set(title, style=STRONG)] if title else []
        return LedgerRow(body, margin=margin, carried=carried, margin_width=MARGIN_ROOM)

    def _signature(self, signature: HandoverSignature) -> list[Flowable]:
        cell = [self._set(signature.label, style=LABEL)]
        if not signature.name:
            return [*cell, Drawn(SIGNED_BY_HAND, _line), self._set(_("name, time"), style=LABEL)]
        cell.append(self._set(signature.name, style=STRONG))
        cell.append(self._set(signature.at, style=SMALL))
        if signature.note:
            cell += paragraphs(self.typesetter, signature.note, style=SMALL)
        return cell

    def _foot(self) -> list[FootLine]:
        document = self.document
        said = [
            _("Handover"),
            _("entry no. %(n)d of the plant") % {"n": document.entry_number},
            _("printed %(at)s") % {"at": document.printed_at},
        ]
        if document.plant_name:
            said.append(document.plant_name)
        return [
            FootLine(text="  ·  ".join(said)),
            FootLine(text=_("As it stood when it was signed. The logbook keeps it.")),
        ]


def _line(canvas: Canvas, width: float) -> None:
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    canvas.line(0, 2, width, 2)
