"""Sets the record of a mold on one page, closer where it must be; more only where that fails."""

import io
from collections.abc import Iterator

from django.utils.translation import gettext as _
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from moldcare.paper.blocks import Drawn, Grid
from moldcare.paper.frame import FootLine, PageHead, Paper, PaperSize, build_paper, width_of
from moldcare.paper.ledger import LedgerRow
from moldcare.paper.mold_record.document import EDGES, Fact, MoldRecord, RuleLine, Section
from moldcare.paper.mold_record.spacing import Spacing
from moldcare.paper.photo import SmallPhoto
from moldcare.paper.stack import stacked
from moldcare.paper.styles import led, paragraph
from moldcare.paper.typefaces import Typesetter


class MoldRecordPages:
    """One record being set, as wide or as close as it is told."""

    def __init__(
        self,
        record: MoldRecord,
        *,
        photo: SmallPhoto | None,
        paper_size: PaperSize,
        spacing: Spacing,
    ) -> None:
        self.record, self.photo = record, photo
        self.paper_size, self.spacing = paper_size, spacing
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
        yield Grid(
            [self._cell(fact) for fact in record.facts],
            columns=self.spacing.columns,
            pad=self.spacing.pad,
        )
        yield self._marking_and_life()
        yield from self._rules()
        yield from self._sections()
        yield Spacer(0, 2)

    def _set(self, text: str, *, style: ParagraphStyle) -> Flowable:
        return paragraph(self.typesetter, text, style=style)

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
        cell = [
            self._set(fact.label, style=self.spacing.label),
            self._set(first, style=self.spacing.small_strong),
        ]
        cell.extend(self._set(line, style=self.spacing.small) for line in others)
        return cell

    def _margin(self, title: str) -> list[Flowable]:
        return [self._set(title, style=self.spacing.small_strong)]

    def _row(
        self, title: str, body: list[Flowable], *, side: list[Flowable] | None = None
    ) -> LedgerRow:
        def carried() -> list[Flowable]:
            said = _("%(title)s, continued") % {"title": title}
            return [self._set(said, style=self.spacing.margin)]

        return LedgerRow(
            body,
            margin=self._margin(title),
            side=side or [],
            side_width=self.spacing.photo_width if side else 0.0,
            carried=carried,
            margin_width=self.spacing.margin_room,
            pad=self.spacing.pad,
        )

    def _marking_and_life(self) -> Flowable:
        """Set what shows whose it is beside the photo of its plate, and its count under it."""
        marking, life, photo = self.record.marking, self.record.life, self.photo
        body: list[Flowable] = [self._led(_("Marking:"), marking.said)]
        if marking.photo is not None and photo is None:
            body.append(self._set(_("The photo's file cannot be read."), style=self.spacing.line))
        body += [self._led(lead, text) for lead, text in life.lines]
        side = [self._photo(photo)] if photo is not None else None
        return self._row(life.title, body, side=side)

    def _led(self, lead: str, text: str) -> Flowable:
        if not lead:
            return self._set(text, style=self.spacing.line)
        return led(self.typesetter, lead, text, style=self.spacing.line)

    def _photo(self, photo: SmallPhoto) -> Flowable:
        share = min(
            self.spacing.photo_width / photo.width, self.spacing.photo_height / photo.height
        )
        width, height = photo.width * share, photo.height * share

        def draw(canvas: Canvas, _width: float) -> None:
            picture = ImageReader(io.BytesIO(photo.jpeg))
            canvas.drawImage(picture, 0, 0, width=width, height=height)

        return Drawn(height, draw)

    def _sections(self) -> Iterator[Flowable]:
        """Set each section over the whole width, or all in columns of like height."""
        sections, count = self.record.sections, self.spacing.section_columns
        if count == 1:
            for section in sections:
                yield self._row(section.title, self._section(section))
            return
        width = width_of(self.paper_size) / count
        columns: list[list[Flowable]] = [[] for _each in range(count)]
        heights = [0.0] * count
        for section in sections:
            block = [*self._margin(section.title), *self._section(section)]
            block.append(Spacer(0, 2 * self.spacing.pad))
            shortest = heights.index(min(heights))
            columns[shortest] += block
            heights[shortest] += stacked(block, width=width)[1]
        yield Grid(columns, columns=count, pad=self.spacing.pad)

    def _section(self, section: Section) -> list[Flowable]:
        body: list[Flowable] = [self._led(lead, text) for lead, text in section.lines]
        if section.more:
            body.append(self._set(section.more, style=self.spacing.small))
        return body or [self._set("–", style=self.spacing.line)]

    def _rules(self) -> Iterator[Flowable]:
        record = self.record
        yield self._row(_("care rules"), [self._set(record.rules_said, style=self.spacing.line)])
        for rule in record.rules:
            yield self._rule(rule)
        if record.rules_more:
            yield self._row("", [self._set(record.rules_more, style=self.spacing.small)])

    def _rule(self, rule: RuleLine) -> LedgerRow:
        return LedgerRow(
            [self._led(rule.name, rule.said)],
            margin=[self._set(rule.state_text, style=self.spacing.margin)],
            side=[self._set(rule.last_done, style=self.spacing.margin)],
            side_width=self.spacing.last_done_width,
            edge=EDGES[rule.state],
            carried=lambda: [self._set(rule.name, style=self.spacing.margin)],
            margin_width=self.spacing.margin_room,
            pad=self.spacing.rule_pad,
        )
