"""A handover as plain data for paper."""

from datetime import datetime

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from moldcare.acts.handover import HandoverLine
from moldcare.pages.handover.shown import sections_of
from moldcare.paper.handover import HandoverDocument, HandoverPart, HandoverSignature
from moldcare.plant.models import Plant
from moldcare.work.models import Handover


def handover_document(row: Handover, *, plant: Plant, now: datetime) -> HandoverDocument:
    """Return what the paper prints; the plant's language must be the active one."""
    taken = getattr(row, "taken", None)
    newer = getattr(row, "corrected_by", None)
    signatures = [
        HandoverSignature(
            label=_("handed over"), name=row.given_by.name, at=_at(row.written_at), note=""
        )
    ]
    if taken is not None:
        signatures.append(
            HandoverSignature(
                label=_("taken"), name=taken.person.name, at=_at(taken.at), note=taken.note
            )
        )
    else:
        signatures.append(HandoverSignature(label=_("taken"), name="", at="", note=""))
    return HandoverDocument(
        language=plant.language,
        shift=row.shift_name,
        at=_at(row.at),
        plant_name=plant.name,
        entry_number=row.entry.number,
        parts=[
            HandoverPart(title=each.title, lines=[_led(line) for line in each.lines])
            for each in sections_of(row)
        ],
        note=row.note,
        remark=_remark(row, newer=newer),
        signatures=signatures,
        printed_at=_at(now),
    )


def _remark(row: Handover, *, newer: Handover | None) -> str:
    if newer is not None:
        return _("Put right by a newer one, entry no. %(n)d. Do not work from this sheet.") % {
            "n": newer.entry.number
        }
    if row.corrects is not None:
        return _("Stands in place of entry no. %(n)d.") % {"n": row.corrects.entry.number}
    return ""


def _led(line: HandoverLine) -> tuple[str, str]:
    lead = line.mold
    if line.place:
        lead = f"{lead} ({line.place})" if lead else line.place
    return lead, line.say


def _at(instant: datetime) -> str:
    return date_format(localtime(instant), "D j M Y, H:i")
