"""The water map of a mold, put together for paper."""

from collections.abc import Iterator
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.core.units import Quantity
from moldcare.core.water_map import CircuitsUnclear
from moldcare.molds.models import Circuit, Mold
from moldcare.molds.queries import circuits_with_items, drawn_map
from moldcare.pages.access import page, person_of, plant_of
from moldcare.pages.acting import mold_or_404
from moldcare.pages.pdf import paper_size, pdf_answer
from moldcare.pages.printing.saying import Saying
from moldcare.paper.water_map import WaterMapDocument, water_map_pdf
from moldcare.paper.water_map.pages import CARE_FAMILIES
from moldcare.plant.queries import cautions_in_force, the_plant


def water_map_document(
    mold: Mold, *, at: datetime, printed_by: str, code_text: str = ""
) -> WaterMapDocument:
    """Put the water map of a mold together.

    Raises
    ------
    CircuitsUnclear
        If two circuits have one name, so that no hose can be told from another.
    """
    plant = the_plant()
    say = Saying.of(plant)
    circuits = circuits_with_items(mold)
    with translation.override(plant.language), timezone.override(say.zone):
        return WaterMapDocument(
            language=plant.language,
            number=mold.number,
            name=mold.name,
            water=drawn_map(circuits),
            measures={row.ident: list(_measures(row, say=say)) for row in circuits},
            own_cautions=[row.text for row in cautions_in_force(CARE_FAMILIES)],
            code_text=code_text,
            printed_at=say.moment(at),
            printed_by=printed_by,
            plant_name=plant.name,
        )


def _measures(row: Circuit, *, say: Saying) -> Iterator[str]:
    """Say bore and length, design flow and limit of a circuit, as far as they are entered."""
    if row.bore_mm is not None:
        yield _("Bore %(bore)s.") % {"bore": say.measure(row.bore_mm, quantity=Quantity.BORE)}
    if row.length_mm is not None:
        yield _("Length %(length)s.") % {
            "length": say.measure(row.length_mm, quantity=Quantity.LENGTH)
        }
    if row.bends:
        yield ngettext("%(n)d bend.", "%(n)d bends.", row.bends) % {"n": row.bends}
    if row.design_flow_l_min is not None:
        flow = say.measure(row.design_flow_l_min, quantity=Quantity.FLOW)
        yield _("Design flow %(flow)s.") % {"flow": flow}
    if row.rise_limit_k is not None:
        rise = say.measure(row.rise_limit_k, quantity=Quantity.TEMPERATURE_RISE)
        yield _("It may warm up by %(rise)s at most.") % {"rise": rise}


@page()
def water_map_print(request: HttpRequest, number: str) -> HttpResponse:
    """Give the water map of a mold as a PDF; a map that cannot be drawn is said on its page."""
    mold = mold_or_404(number)
    address = reverse("mold", kwargs={"number": mold.number})
    try:
        document = water_map_document(
            mold,
            at=timezone.now(),
            printed_by=person_of(request).name,
            code_text=request.build_absolute_uri(address),
        )
    except CircuitsUnclear as unclear:
        messages.error(request, str(unclear))
        return redirect("mold", number=mold.number)
    paper = water_map_pdf(document, paper_size=paper_size(request, plant=plant_of(request)))
    return pdf_answer(paper.content, name="water-map.pdf")
