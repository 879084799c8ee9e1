"""Sets a work order on one to three pages."""

from collections.abc import Iterator
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.platypus import Flowable, KeepTogether, Spacer

from moldcare.core.units import Quantity, shown, unit_of
from moldcare.paper import numbers
from moldcare.paper.blocks import Framed, Grid
from moldcare.paper.cautions import DEFERENCE, cautions_for
from moldcare.paper.frame import FootLine, PageHead, Paper, PaperSize, build_paper
from moldcare.paper.handwriting import Answers, Blank, Blanks, ruled_lines
from moldcare.paper.ledger import LedgerRow
from moldcare.paper.styles import (
    BODY,
    HEAD,
    LABEL,
    MARGIN,
    MARGIN_SMALL,
    NOTE,
    NOTE_STRONG,
    SMALL,
    SMALL_STRONG,
    STRONG,
    led,
    paragraph,
    paragraphs,
)
from moldcare.paper.typefaces import Typesetter
from moldcare.paper.work_order.document import Meaning, WorkOrderDocument
from moldcare.paper.work_order.pairs import picture_pairs
from moldcare.paper.work_order.tasks import TaskRows


class WorkOrderPages:
    """One work order being set."""

    def __init__(self, document: WorkOrderDocument, *, paper_size: PaperSize) -> None:
        self.document, self.paper_size = document, paper_size
        self.typesetter = Typesetter()

    def printed(self) -> Paper:
        """Set all pages; the plant's language must be the active one."""
        document = self.document
        title = _("Work order %(number)s") % {"number": document.order_number}
        story: list[Flowable] = [
            self._facts(),
            Spacer(0, 8),
            self._cautions(),
            Spacer(0, 6),
            self._lockout(),
            Spacer(0, 8),
        ]
        if document.note:
            story.append(
                LedgerRow(
                    paragraphs(self.typesetter, document.note),
                    margin=[self._set(_("note"), style=MARGIN)],
                    carried=lambda: [self._set(_("note, continued"), style=MARGIN_SMALL)],
                )
            )
        story.extend(self._half_done())
        rows = TaskRows(document, typesetter=self.typesetter)
        for number, task in enumerate(document.tasks, start=1):
            story.extend(rows.task(task, number=number))
        story.extend(picture_pairs(document, typesetter=self.typesetter))
        # nobody signs a page that holds nothing but signatures
        story.append(KeepTogether([self._seen_besides(), *self._signatures()]))
        return build_paper(
            story,
            typesetter=self.typesetter,
            head=PageHead(
                plate=document.mold_number,
                title=title,
                subtitle=document.mold_name,
                code_text=document.code_text,
                code_note=_("scan to open") if document.code_text else "",
            ),
            foot=self._foot(title),
            paper_size=self.paper_size,
            language=document.language,
            subject=f"{document.mold_number} {document.mold_name}",
        )

    def _half_done(self) -> Iterator[Flowable]:
        """Say what was passed on, and what lies outside of the mold."""
        document = self.document
        if document.passed_on:
            yield LedgerRow(
                paragraphs(self.typesetter, document.passed_on),
                margin=[self._set(_("passed on"), style=MARGIN)],
                carried=lambda: [self._set(_("passed on"), style=MARGIN_SMALL)],
            )
        if document.parts_out:
            yield LedgerRow(
                [self._set(part) for part in document.parts_out],
                margin=[self._set(_("out of the mold"), style=MARGIN)],
                carried=lambda: [self._set(_("out of the mold"), style=MARGIN_SMALL)],
            )

    def _set(self, text: object, *, style: object = BODY) -> Flowable:
        return paragraph(self.typesetter, str(text), style=style)

    def _foot(self, title: str) -> list[FootLine]:
        document = self.document
        printed = _("printed %(at)s by %(by)s") % {
            "at": document.printed_at,
            "by": document.printed_by,
        }
        said = [title, f"{_('mold')} {document.mold_number}"]
        if document.printed_at:
            said.append(printed)
        if document.plant_name:
            said.append(document.plant_name)
        return [
            FootLine(text="  ·  ".join(said)),
            FootLine(
                text=_(
                    "What is written by hand here is typed in later, and the entry says so. "
                    "In numbers, point and comma are both read."
                )
            ),
        ]

    def _quantity(self, value: Decimal | int, *, unit: str) -> str:
        return numbers.quantity(value, unit=unit, locale=self.document.language)

    def _mass(self, mass_kg: Decimal) -> str:
        units = self.document.units
        number = shown(mass_kg, quantity=Quantity.MASS, units=units)
        return self._quantity(number, unit=unit_of(Quantity.MASS, units=units))

    def _facts(self) -> Flowable:
        document = self.document
        cells = [
            self._cell(_("place"), document.place),
            self._cell(_("total"), *self._total()),
            self._cell(_("planned for"), document.planned_shift or "–"),
            [
                self._set(_("people"), style=LABEL),
                *(self._set(person, style=STRONG) for person in document.people or ("–",)),
            ],
        ]
        masses = [
            f"{half} {self._mass(Decimal(mass))}"
            for half, mass in zip("AB", document.half_masses_kg, strict=True)
            if mass is not None
        ]
        if document.owner or document.is_customer_property:
            mark = (_("customer's property"),) if document.is_customer_property else ()
            cells.append(self._cell(_("owner"), document.owner or "–", *mark))
        if masses:
            cells.append(self._cell(_("mass of the halves"), *masses))
        minutes = sum(task.standard_minutes or 0 for task in document.tasks)
        if minutes:
            cells.append(self._cell(_("work in all"), self._quantity(minutes, unit=_("min"))))
        reaches = list(dict.fromkeys(task.reach for task in document.tasks if task.reach))
        if reaches:
            cells.append(self._cell(_("opened as far as"), *reaches))
        return Grid(cells, columns=4)

    def _cell(self, label: str, *lines: str) -> list[Flowable]:
        cell = [self._set(label, style=LABEL), self._set(lines[0], style=STRONG)]
        cell.extend(self._set(line, style=SMALL_STRONG) for line in lines[1:])
        return cell

    def _total(self) -> Iterator[str]:
        document = self.document
        if document.total_cycles is None:
            yield _("not known: no reading yet")
            return
        cycles = self._quantity(document.total_cycles, unit=_("cycles"))
        yield _("about %(cycles)s") % {"cycles": cycles} if document.is_estimated else cycles
        if document.total_shots is not None:
            yield self._quantity(document.total_shots, unit=_("shots"))
        if document.is_estimated:
            yield _("estimated: read the counter")
        if document.total_as_of:
            yield _("as of %(when)s") % {"when": document.total_as_of}

    def _cautions(self) -> Flowable:
        document = self.document
        cautions = cautions_for(
            document.families, more=document.more_cautions, own=document.own_cautions
        )
        said = [
            led(self.typesetter, str(caution.heading), str(caution.text), style=NOTE)
            for caution in cautions
        ]
        said.append(self._set(DEFERENCE, style=NOTE_STRONG))
        for each in said[1:]:
            each.spaceBefore = 2.2
        return Framed(said, is_hatched=True)

    def _lockout(self) -> Flowable:
        document = self.document
        heading = led(
            self.typesetter,
            _("Lock-out, before hands go in."),
            _("By the site's own procedure; tick what was isolated and let out."),
            style=BODY,
        )
        energies = Answers(
            [
                _("electric"),
                _("hydraulic"),
                _("air"),
                _("water"),
                _("springs, accumulators"),
                _("heat, trapped melt"),
                _("weight that can fall"),
                _("tried: it does not start"),
            ],
            typesetter=self.typesetter,
        )
        energies.spaceBefore = 4
        procedure = (
            [
                self._set(
                    _("Procedure: %(name)s") % {"name": document.lockout_procedure}, style=STRONG
                )
            ]
            if document.lockout_procedure
            else []
        )
        blanks = Blanks(
            [
                *([] if procedure else [Blank(label=_("procedure no."))]),
                Blank(label=_("lock no."), weight=0.7),
                Blank(label=_("locked by, at"), weight=1.5),
                Blank(label=_("unlocked by, at"), weight=1.5),
            ],
            typesetter=self.typesetter,
        )
        return Framed([heading, *procedure, energies, blanks])

    def _seen_besides(self) -> Flowable:
        return LedgerRow(
            [ruled_lines(3)],
            margin=[
                self._set(_("seen besides"), style=STRONG),
                self._set(_("position, what, for whom"), style=MARGIN_SMALL),
            ],
        )

    def _signatures(self) -> list[Flowable]:
        said = {
            Meaning.DONE: (_("done"), _("I did what is ticked and written above, as written.")),
            Meaning.CHECKED: (_("checked"), _("I looked at the work; it is as written above.")),
            Meaning.ACCEPTED: (_("accepted"), _("The mold may go back to its use.")),
        }
        count = len(self.document.signatures)
        if not count:
            return []
        rows: list[Flowable] = [
            Spacer(0, 6),
            self._set(
                ngettext("Signature", "Signatures, one person each", count),
                style=HEAD,
            ),
            Spacer(0, 2),
        ]
        for meaning in self.document.signatures:
            name, sentence = said[meaning]
            blanks = Blanks(
                [
                    Blank(label=_("name, badge"), weight=1.5),
                    Blank(label=_("date, time")),
                    Blank(label=_("signature"), weight=1.6),
                ],
                typesetter=self.typesetter,
                line_height=25,
            )
            rows.append(
                LedgerRow(
                    [self._set(sentence, style=SMALL), blanks],
                    margin=[self._set(name, style=MARGIN)],
                )
            )
        return rows
