"""Sets the water map: each circuit from IN to OUT, and a list of all hoses."""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.platypus import CondPageBreak, Flowable, Spacer

from moldcare.core.water_map import (
    Hose,
    InlineKind,
    MappedCircuit,
    MappedHalf,
    Unclear,
    UnclearLoop,
    WaterPath,
)
from moldcare.paper import marks
from moldcare.paper.blocks import Drawn, Framed, Grid
from moldcare.paper.cautions import DEFERENCE, cautions_for
from moldcare.paper.frame import FootLine, PageHead, Paper, PaperSize, build_paper, width_of
from moldcare.paper.handwriting import Answers
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
    led,
    paragraph,
)
from moldcare.paper.typefaces import TEXT, Typesetter
from moldcare.paper.water_map.document import WaterMapDocument
from moldcare.paper.water_map.drawing import (
    CircuitDrawing,
    HoseEnd,
    Symbol,
    draw_circuit,
    draw_symbol,
    drawing_height,
)

MARGIN_ROOM = 62.0
MARGIN_GAP = 9.0
# what the trade's hoses ask to be looked at: the same as work on seals and hoses
CARE_FAMILIES = ("seals_and_hoses",)


def kind_words(kind: InlineKind) -> str:
    """Return what sits in a circuit, as the map says it."""
    return {
        InlineKind.BUBBLER: _("bubbler"),
        InlineKind.STRAIGHT_BAFFLE: _("straight baffle"),
        InlineKind.SPIRAL_BAFFLE: _("spiral baffle"),
    }[kind]


def counted_words(kind: InlineKind, count: int) -> str:
    """Return how many of a kind sit in a circuit."""
    form = {
        InlineKind.BUBBLER: ngettext("%(n)d bubbler", "%(n)d bubblers", count),
        InlineKind.STRAIGHT_BAFFLE: ngettext(
            "%(n)d straight baffle", "%(n)d straight baffles", count
        ),
        InlineKind.SPIRAL_BAFFLE: ngettext("%(n)d spiral baffle", "%(n)d spiral baffles", count),
    }[kind]
    return form % {"n": count}


class WaterMapPages:
    """One water map being set."""

    def __init__(self, document: WaterMapDocument, *, paper_size: PaperSize) -> None:
        self.document, self.paper_size = document, paper_size
        self.typesetter = Typesetter()
        hoses = document.water.hoses
        self.into = {hose.to_label: number for number, hose in enumerate(hoses, start=1)}
        self.out_of = {hose.from_label: number for number, hose in enumerate(hoses, start=1)}

    def printed(self) -> Paper:
        """Set all pages; the plant's language must be the active one."""
        document = self.document
        return build_paper(
            self._story(),
            typesetter=self.typesetter,
            head=PageHead(
                plate=document.number,
                title=_("Water map"),
                subtitle=document.name,
                code_text=document.code_text,
                code_note=_("scan to open") if document.code_text else "",
            ),
            foot=self._foot(),
            paper_size=self.paper_size,
            language=document.language,
            subject=f"{document.number} {document.name}",
        )

    def _set(self, text: object, *, style: Any = BODY) -> Flowable:
        return paragraph(self.typesetter, str(text), style=style)

    def _foot(self) -> list[FootLine]:
        document = self.document
        said = [_("Water map"), f"{_('mold')} {document.number}"]
        if document.printed_at:
            said.append(
                _("printed %(at)s by %(by)s")
                % {"at": document.printed_at, "by": document.printed_by}
            )
        if document.plant_name:
            said.append(document.plant_name)
        return [FootLine(text="  ·  ".join(said))]

    def _story(self) -> Iterator[Flowable]:
        water = self.document.water
        yield self._cautions()
        yield Spacer(0, 6)
        if not water.halves:
            yield self._set(_("No circuit is entered for this mold."))
            return
        yield self._legend()
        for half in water.halves:
            yield from self._half(half)
        yield from self._hoses()
        for loop in water.unclear:
            yield self._unclear(loop)

    def _cautions(self) -> Flowable:
        cautions = cautions_for(CARE_FAMILIES, own=self.document.own_cautions)
        said = [
            led(self.typesetter, str(caution.heading), str(caution.text), style=NOTE)
            for caution in cautions
        ]
        said.append(self._set(DEFERENCE, style=NOTE_STRONG))
        for each in said[1:]:
            each.spaceBefore = 2.2
        return Framed(said, is_hatched=True)

    def _legend(self) -> Flowable:
        def drawn(kind: InlineKind) -> Flowable:
            def draw(canvas: Any, _width: float) -> None:
                draw_symbol(canvas, kind, x=9, y=9)
                marks.draw_runs(
                    canvas, self.typesetter, kind_words(kind), x=22, y=6.5, face=TEXT, size=7.4
                )

            return Drawn(18, draw)

        hose = self._set(_("numbered: hoses, with the water's direction"), style=LABEL)
        return Grid([*([drawn(kind)] for kind in InlineKind), [hose]], columns=4, pad=2)

    def _half(self, half: MappedHalf) -> Iterator[Flowable]:
        yield CondPageBreak(130)
        yield Spacer(0, 8)
        yield self._set(_("%(half)s half") % {"half": half.half}, style=HEAD)
        for circuit in half.circuits:
            yield self._circuit(circuit)

    def _circuit(self, circuit: MappedCircuit) -> Flowable:
        path = circuit.path
        drawing = CircuitDrawing(
            in_label=circuit.in_label,
            out_label=circuit.out_label,
            symbols=[
                *(Symbol(kind=item.kind, number=item.number, at=item.at) for item in path.items),
                *(Symbol(kind=kind, number=f"{count} x") for kind, count in path.counted if count),
            ],
            into=HoseEnd(
                number=self.into[circuit.in_label],
                other=_("from %(end)s") % {"end": circuit.from_label or _("supply")},
            ),
            out_of=HoseEnd(
                number=self.out_of[circuit.out_label],
                other=_("to %(end)s") % {"end": circuit.to_label or _("return")},
            ),
        )
        width = width_of(self.paper_size) - MARGIN_ROOM - MARGIN_GAP

        def draw(canvas: Any, drawn_width: float) -> None:
            draw_circuit(canvas, self.typesetter, drawing, width=drawn_width)

        said = []
        if path.couplings:
            said.append(_("Couplings: %(couplings)s.") % {"couplings": path.couplings})
        if path.medium:
            said.append(_("Medium: %(medium)s.") % {"medium": path.medium})
        said += self.document.measures.get(path.ident, ())
        return LedgerRow(
            [
                Drawn(drawing_height(drawing, width=width), draw),
                self._set(self._path_words(path), style=SMALL),
                *([self._set(" ".join(said), style=SMALL)] if said else []),
            ],
            margin=[self._set(path.ident, style=MARGIN)],
            carried=lambda: [self._set(path.ident, style=MARGIN_SMALL)],
            margin_width=MARGIN_ROOM,
        )

    def _path_words(self, path: WaterPath) -> str:
        """Say in words what is drawn: whoever cannot see the drawing, and what was shortened."""
        if path.items:
            items = [
                f"{kind_words(item.kind)} {item.number}" + (f" ({item.at})" if item.at else "")
                for item in path.items
            ]
            return _("From IN to OUT: %(items)s.") % {"items": ", ".join(items)}
        counted = [counted_words(kind, count) for kind, count in path.counted if count]
        if not counted:
            return _("Nothing sits in it.")
        return _("%(items)s; their order from IN to OUT is not entered.") % {
            "items": ", ".join(counted)
        }

    def _hoses(self) -> Iterator[Flowable]:
        hoses = self.document.water.hoses
        yield CondPageBreak(90)
        yield Spacer(0, 8)
        yield self._set(
            ngettext("%(n)d hose", "%(n)d hoses", len(hoses)) % {"n": len(hoses)}, style=HEAD
        )
        yield self._set(
            _("Tick each when it is connected. Let water in slowly and look for leaks."),
            style=SMALL,
        )
        yield Spacer(0, 3)
        cells = [[self._hose(hose, number=number)] for number, hose in enumerate(hoses, start=1)]
        yield Grid(cells, columns=2)

    def _hose(self, hose: Hose, *, number: int) -> Flowable:
        said = _("%(number)d: %(from)s → %(to)s") % {
            "number": number,
            "from": hose.from_label or _("supply"),
            "to": hose.to_label or _("return"),
        }
        return Answers([said], typesetter=self.typesetter)

    def _unclear(self, loop: UnclearLoop) -> Flowable:
        why = {
            Unclear.NO_SUCH_CIRCUIT: _("the mold has no such circuit"),
            Unclear.ITSELF: _("that is the circuit itself"),
            Unclear.IN_IS_TAKEN: _("another hose is on that IN already"),
            Unclear.IN_CIRCLE: _("the water would only go round"),
        }[loop.why]
        said = _("%(ident)s is said to be looped with %(other)s: %(why)s. Drawn without the loop.")
        return LedgerRow(
            [self._set(said % {"ident": loop.ident, "other": loop.said, "why": why}, style=NOTE)],
            margin=[self._set(_("unclear"), style=MARGIN)],
            margin_width=MARGIN_ROOM,
        )
