"""Sets a month of the logbook."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer

from moldcare.core.chain import ChainHead
from moldcare.paper import marks, numbers
from moldcare.paper.blocks import Drawn, Grid
from moldcare.paper.frame import FootLine, PageHead, Paper, PaperSize, build_paper
from moldcare.paper.handwriting import Blank, Blanks
from moldcare.paper.ledger import MARGIN_WIDTH, LateRow, LedgerRow
from moldcare.paper.logbook.month import FactLine, LogbookEntry, LogbookMonth, Placed
from moldcare.paper.numbers import NO_BREAK
from moldcare.paper.styles import (
    BODY,
    HASH,
    HEAD,
    INK,
    LABEL,
    MARGIN,
    MARGIN_SMALL,
    SMALL,
    SMALL_STRONG,
    SOFT_INK,
    STRONG,
    led,
    paragraph,
    paragraphs,
    struck,
)
from moldcare.paper.text import RunningText, runs_of
from moldcare.paper.typefaces import BOLD, NUMBER, TEXT, Typesetter

HEAD_LINE = 10.5
CORRECTION_INDENT = 16.0
PLATE_FOOT = 3.0


class LogbookPages:
    """One month being set."""

    def __init__(self, month: LogbookMonth, *, paper_size: PaperSize) -> None:
        self.month, self.paper_size = month, paper_size
        self.typesetter = Typesetter()

    def printed(self) -> Paper:
        """Set all pages; the plant's language must be the active one."""
        month = self.month
        month_said = numbers.month_text(month.month, locale=month.language)
        title = _("Logbook, %(month)s") % {"month": month_said}
        return build_paper(
            self._story(month_said),
            typesetter=self.typesetter,
            head=PageHead(plate=month.plate, title=title, subtitle=month.name),
            foot=self._foot(title),
            paper_size=self.paper_size,
            language=month.language,
            subject=f"{month.plate} {month.name}".strip(),
        )

    def _story(self, month_said: str) -> Iterator[Flowable]:
        yield self._facts()
        yield Spacer(0, 4)
        yield from self._entries()
        yield self._end(month_said)
        yield from self._heads()
        yield from self._signatures()

    def _set(self, text: object, *, style: object = BODY) -> Flowable:
        return paragraph(self.typesetter, str(text), style=style)

    def _local(self, instant: datetime) -> datetime:
        return instant.astimezone(self.month.zone)

    def _date(self, day: date) -> str:
        return numbers.date_text(day, locale=self.month.language)

    def _foot(self, title: str) -> list[FootLine]:
        month = self.month
        said = [title, month.plate]
        if month.printed_at:
            said.append(
                _("printed %(at)s by %(by)s") % {"at": month.printed_at, "by": month.printed_by}
            )
        said.append(month.plant_name)
        seal = f"{_('seal')} {month.seal.hash}" if month.seal else _("this month is not sealed")
        if len(month.heads) == 1:
            [head] = month.heads
            chain = f"{_('head')} {head.hash} {_('no.')} {head.number}"
        else:
            chain = ngettext(
                "head of %(count)d chain: see the last page",
                "heads of %(count)d chains: see the end",
                len(month.heads),
            ) % {"count": len(month.heads)}
        return [
            FootLine(text="  ·  ".join(each for each in said if each)),
            FootLine(text=seal, face=NUMBER if month.seal else TEXT),
            FootLine(text=chain, face=NUMBER if len(month.heads) == 1 else TEXT),
        ]

    def _facts(self) -> Flowable:
        month = self.month
        cells = [
            self._cell(_("entries"), str(len(month.entries))),
            self._cell(_("chain"), month.check_said or "–"),
            self._cell(
                _("seal"),
                *(
                    (
                        self._date(self._local(month.seal.sealed_at)),
                        _("by %(name)s") % {"name": month.seal.sealed_by},
                    )
                    if month.seal
                    else (_("not sealed"),)
                ),
            ),
        ]
        if month.owner or month.is_customer_property:
            mark = (_("customer's property"),) if month.is_customer_property else ()
            cells.append(self._cell(_("owner"), month.owner or "–", *mark))
        if month.retention:
            cells.append(self._cell(_("kept until"), month.retention))
        return Grid(cells, columns=min(len(cells), 5))

    def _cell(self, label: str, *lines: str) -> list[Flowable]:
        cell = [self._set(label, style=LABEL), self._set(lines[0], style=SMALL_STRONG)]
        cell.extend(self._set(line, style=SMALL) for line in lines[1:])
        return cell

    def _entries(self) -> Iterator[Flowable]:
        day: date | None = None
        newest: dict[tuple[str, str], datetime] = {}
        for placed in Placed.all_of(self.month.entries):
            entry = placed.entry
            written = self._local(entry.written_at)
            if written.date() != day:
                day = written.date()
                yield from self._day(day)
            chain = (entry.chain_kind, entry.chain_label)
            went_back = chain in newest and entry.written_at < newest[chain]
            newest[chain] = entry.written_at
            if placed.is_printed_above:
                yield LateRow(partial(self._pointer, entry, went_back=went_back))
                continue
            yield LateRow(
                partial(
                    self._entry,
                    entry,
                    is_corrected=bool(placed.corrections),
                    went_back=went_back,
                )
            )
            for correction in placed.corrections:
                is_last = correction is placed.corrections[-1]
                yield LateRow(
                    partial(self._entry, correction, is_corrected=not is_last, is_beneath=True)
                )

    def _day(self, day: date) -> Iterator[Flowable]:
        weekday = numbers.weekday_text(day, locale=self.month.language)
        yield CondPageBreak(70)
        yield Spacer(0, 7)
        yield LedgerRow(
            [self._set(f"{weekday} {self._date(day)}", style=HEAD)], margin_width=0, pad=3
        )

    def _margin(
        self, entry: LogbookEntry, *, went_back: bool, is_beneath: bool = False
    ) -> list[Flowable]:
        written, happened = self._local(entry.written_at), self._local(entry.happened_at)
        time = numbers.time_text(written)
        margin = [self._set(time, style=MARGIN)]
        if not self.month.plate and entry.chain_label:
            margin.append(self._small_plate(entry.chain_label))
        if is_beneath:
            margin.append(self._set(self._date(written), style=MARGIN_SMALL))
        if happened.date() != written.date():
            said = _("late: for %(when)s") % {
                "when": numbers.moment_text(happened, locale=self.month.language)
            }
            margin.append(self._set(said, style=SMALL_STRONG))
        elif numbers.time_text(happened) != time:
            said = _("done at %(time)s") % {"time": numbers.time_text(happened)}
            margin.append(self._set(said, style=MARGIN_SMALL))
        if went_back:
            margin.append(self._set(_("the clock went back"), style=SMALL_STRONG))
        return margin

    def _small_plate(self, number: str) -> Flowable:
        measures = marks.plate_measures(
            self.typesetter, number, size=9, most_width=MARGIN_WIDTH - 12
        )

        def draw(canvas: Any, width: float) -> None:
            marks.draw_plate(canvas, self.typesetter, number, x=0, y=PLATE_FOOT, measures=measures)

        return Drawn(measures.height + PLATE_FOOT + 2, draw)

    def _name(self, entry: LogbookEntry) -> str:
        return _("No. %(number)d") % {"number": entry.number}

    def _entry(
        self,
        entry: LogbookEntry,
        *,
        is_corrected: bool,
        went_back: bool = False,
        is_beneath: bool = False,
    ) -> LedgerRow:
        name = self._name(entry)
        kind = entry.kind
        if entry.corrects is not None:
            kind = _("%(kind)s, corrects no. %(number)d") % {
                "kind": entry.kind,
                "number": entry.corrects,
            }
        body: list[Flowable] = [led(self.typesetter, name, kind, style=SMALL)]
        if entry.original is not None:
            body.extend(self._repeated(entry.original))
        sentence = struck if is_corrected else paragraphs
        body.extend(sentence(self.typesetter, entry.sentence))
        if entry.facts:
            said = "  ·  ".join(self._fact(fact) for fact in entry.facts)
            body.append(self._set(said, style=SMALL))
        body.extend(
            led(self.typesetter, photo.name, f"SHA-256 {photo.sha256}", style=HASH)
            for photo in entry.photos
        )
        body.append(self._signed(entry))
        return LedgerRow(
            body,
            margin=self._margin(entry, went_back=went_back, is_beneath=is_beneath),
            indent=CORRECTION_INDENT if is_beneath else 0.0,
            carried=lambda: [
                self._set(name, style=STRONG),
                self._set(_("continued"), style=MARGIN_SMALL),
            ],
        )

    def _repeated(self, original: LogbookEntry) -> Iterator[Flowable]:
        said = _("As it was: no. %(number)d, written %(when)s by %(name)s") % {
            "number": original.number,
            "when": numbers.moment_text(
                self._local(original.written_at), locale=self.month.language
            ),
            "name": original.author,
        }
        yield self._set(said, style=SMALL)
        yield from struck(self.typesetter, original.sentence)
        if original.facts:
            facts = "  ·  ".join(self._fact(fact) for fact in original.facts)
            yield from struck(self.typesetter, facts, style=SMALL)
        yield self._set(_("Now:"), style=SMALL)

    def _fact(self, fact: FactLine) -> str:
        match fact.value:
            case None:
                value = "–"
            case bool():
                value = _("yes") if fact.value else _("no")
            case int() | Decimal():
                value = numbers.quantity(fact.value, unit=fact.unit, locale=self.month.language)
            case _:
                value = f"{fact.value} {fact.unit}".strip()
        return f"{fact.label}: {value}"

    def _signed(self, entry: LogbookEntry) -> Flowable:
        lead = f"{entry.meaning}: {entry.author}" if entry.meaning else entry.author
        runs = runs_of(self.typesetter, lead, face=BOLD, size=7.4, ink=INK)
        gap = NO_BREAK * 2 + " "
        runs += runs_of(
            self.typesetter, gap + entry.hash, face=NUMBER, size=HASH.fontSize, ink=HASH.textColor
        )
        signed = RunningText(runs, style=HASH)
        signed.spaceBefore = 1.5
        return signed

    def _pointer(self, entry: LogbookEntry, *, went_back: bool) -> LedgerRow:
        said = _("corrects no. %(number)d: printed under it.") % {"number": entry.corrects or 0}
        return LedgerRow(
            [led(self.typesetter, self._name(entry), said, style=SMALL)],
            margin=self._margin(entry, went_back=went_back),
            pad=3.5,
        )

    def _end(self, month_said: str) -> Flowable:
        count = len(self.month.entries)
        said = (
            ngettext(
                "End of %(month)s: %(count)d entry.",
                "End of %(month)s: %(count)d entries.",
                count,
            )
            % {"month": month_said, "count": count}
            if count
            else _("Nothing was written in %(month)s.") % {"month": month_said}
        )
        return KeepTogether([Spacer(0, 8), self._set(said, style=STRONG), Spacer(0, 8)])

    def _heads(self) -> Iterator[Flowable]:
        month = self.month
        if not month.heads and month.seal is None:
            return
        yield CondPageBreak(90)
        yield self._set(_("What binds this month"), style=HEAD)
        yield self._set(
            _(
                "Each entry's hash holds the one before it; the head of a chain is its newest "
                "entry at the month's end. The seal is the hash over all heads."
            ),
            style=SMALL,
        )
        yield Spacer(0, 3)
        if month.seal is not None:
            yield self._hash_line(_("seal"), "", month.seal.hash)
        for head in month.heads:
            yield self._hash_line(
                self._chain_name(head), _("no. %(number)d") % {"number": head.number}, head.hash
            )

    def _chain_name(self, head: ChainHead) -> str:
        return head.chain_label or _("plant")

    def _hash_line(self, name: str, number: str, digest: str) -> Flowable:
        def draw(canvas: Any, width: float) -> None:
            left = width - marks.line_width(self.typesetter, digest, face=NUMBER, size=6.6)
            said = marks.fitted(self.typesetter, name, width=left - 62, face=BOLD, size=7.4)
            marks.draw_runs(canvas, self.typesetter, said, x=0, y=2.5, face=BOLD, size=7.4)
            marks.draw_runs(
                canvas,
                self.typesetter,
                number,
                x=left - 10,
                y=2.5,
                face=TEXT,
                size=7.4,
                ink=SOFT_INK,
                is_right=True,
            )
            marks.draw_runs(
                canvas,
                self.typesetter,
                digest,
                x=left,
                y=2.5,
                face=NUMBER,
                size=6.6,
                ink=SOFT_INK,
            )

        return Drawn(HEAD_LINE, draw)

    def _signatures(self) -> Sequence[Flowable]:
        if not self.month.signatures:
            return ()
        rows: list[Flowable] = [Spacer(0, 12)]
        for meaning in self.month.signatures:
            blanks = Blanks(
                [
                    Blank(label=_("name"), weight=1.3),
                    Blank(label=_("date")),
                    Blank(label=_("signature"), weight=1.7),
                ],
                typesetter=self.typesetter,
                line_height=26,
            )
            rows.append(LedgerRow([blanks], margin=[self._set(meaning, style=STRONG)]))
        return (KeepTogether(rows),)
