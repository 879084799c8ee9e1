"""Sets the record of a mold: one page for a usual mold, more where there is more to say."""

import io
from collections.abc import Iterator

from django.utils.translation import gettext as _
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from moldcare.paper.blocks import Drawn, Grid
from moldcare.paper.frame import FootLine, PageHead, Paper, PaperSize, build_paper
from moldcare.paper.ledger import LedgerRow
from moldcare.paper.mold_record.document import EDGES, Fact, MoldRecord, RuleLine, Section
from moldcare.paper.mold_record.photo import SmallPhoto, small_photo
from moldcare.paper.styles import (
    BODY,
    INK,
    LABEL,
    MARGIN_SMALL,
    SMALL,
    SMALL_STRONG,
    led,
    paragraph,
)
from moldcare.paper.typefaces import TEXT, Typesetter

LINE = ParagraphStyle("record", fontName=TEXT, fontSize=7.4, leading=9.3, textColor=INK)
PHOTO_WIDTH, PHOTO_HEIGHT = 40 * mm, 25 * mm
LAST_DONE_WIDTH = 146.0
MARGIN_ROOM = 21 * mm
COLUMNS = 5
PAD, RULE_PAD = 2.0, 0.9


class MoldRecordPages:
    """One record being set."""

    def __init__(self, record: MoldRecord, *, paper_size: PaperSize) -> None:
        self.record, self.paper_size = record, paper_size
        self.typesetter = Typesetter()

    def printed(self) -> Paper:
        """Set all pages; the plant's language must be the active one."""
        record = self.record
        return build_paper(
            self._story(),
            typesetter=self.typesetter,
            head=PageHead(
                plate=record.number,
                title=_("Mold record"),
                subtitle=record.name,
                code_text=record.code_text,
            ),
            foot=self._foot(),
            paper_size=self.paper_size,
            language=record.language,
            subject=f"{record.number} {record.name}",
        )

    def _story(self) -> Iterator[Flowable]:
        record = self.record
        yield Grid([self._cell(fact) for fact in record.facts], columns=COLUMNS, pad=PAD)
        yield self._marking_and_life()
        yield from self._rules()
        for section in record.sections:
            yield self._section(section)
        yield Spacer(0, 2)

    def _set(self, text: object, *, style: object = BODY) -> Flowable:
        return paragraph(self.typesetter, str(text), style=style)

    def _foot(self) -> list[FootLine]:
        record = self.record
        said = [_("Mold record"), f"{_('mold')} {record.number}"]
        if record.printed_at:
            said.append(
                _("printed %(at)s by %(by)s") % {"at": record.printed_at, "by": record.printed_by}
            )
        if record.plant_name:
            said.append(record.plant_name)
        return [
            FootLine(text="  ·  ".join(said)),
            FootLine(
                text=_("As it stood when this was printed. The whole history is in the logbook.")
            ),
        ]

    def _cell(self, fact: Fact) -> list[Flowable]:
        first, *others = list(fact.lines) or ["–"]
        cell = [self._set(fact.label, style=LABEL), self._set(first, style=SMALL_STRONG)]
        cell.extend(self._set(line, style=SMALL) for line in others)
        return cell

    def _margin(self, title: str) -> list[Flowable]:
        return [self._set(title, style=SMALL_STRONG)]

    def _row(
        self, title: str, body: list[Flowable], *, side: list[Flowable] | None = None
    ) -> LedgerRow:
        def carried() -> list[Flowable]:
            said = _("%(title)s, continued") % {"title": title}
            return [self._set(said, style=MARGIN_SMALL)]

        return LedgerRow(
            body,
            margin=self._margin(title),
            side=side or [],
            side_width=PHOTO_WIDTH if side else 0.0,
            carried=carried,
            margin_width=MARGIN_ROOM,
            pad=PAD,
        )

    def _marking_and_life(self) -> Flowable:
        """Set what shows whose it is beside the photo of its plate, and its count under it."""
        marking, life = self.record.marking, self.record.life
        photo = small_photo(marking.photo) if marking.photo is not None else None
        body: list[Flowable] = [self._led(_("Marking:"), marking.said)]
        if marking.photo is not None and photo is None:
            body.append(self._set(_("The photo's file cannot be read."), style=LINE))
        body += [self._led(lead, text) for lead, text in life.lines]
        side = [self._photo(photo)] if photo is not None else None
        return self._row(life.title, body, side=side)

    def _led(self, lead: str, text: str) -> Flowable:
        if not lead:
            return self._set(text, style=LINE)
        return led(self.typesetter, lead, text, style=LINE)

    def _photo(self, photo: SmallPhoto) -> Flowable:
        share = min(PHOTO_WIDTH / photo.width, PHOTO_HEIGHT / photo.height)
        width, height = photo.width * share, photo.height * share

        def draw(canvas: Canvas, _width: float) -> None:
            picture = ImageReader(io.BytesIO(photo.jpeg))
            canvas.drawImage(picture, 0, 0, width=width, height=height)

        return Drawn(height, draw)

    def _section(self, section: Section) -> Flowable:
        body: list[Flowable] = [self._led(lead, text) for lead, text in section.lines]
        if section.more:
            body.append(self._set(section.more, style=SMALL))
        return self._row(section.title, body or [self._set("–", style=LINE)])

    def _rules(self) -> Iterator[Flowable]:
        record = self.record
        yield self._row(_("care rules"), [self._set(record.rules_said, style=LINE)])
        for rule in record.rules:
            yield self._rule(rule)
        if record.rules_more:
            yield self._row("", [self._set(record.rules_more, style=SMALL)])

    def _rule(self, rule: RuleLine) -> LedgerRow:
        return LedgerRow(
            [self._led(rule.name, rule.said)],
            margin=[self._set(rule.state_text, style=MARGIN_SMALL)],
            side=[self._set(rule.last_done, style=MARGIN_SMALL)],
            side_width=LAST_DONE_WIDTH,
            edge=EDGES[rule.state],
            carried=lambda: [self._set(rule.name, style=MARGIN_SMALL)],
            margin_width=MARGIN_ROOM,
            pad=RULE_PAD,
        )
