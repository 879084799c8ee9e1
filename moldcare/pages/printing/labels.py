"""The page that prints labels."""

from collections.abc import Callable, Iterable

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.core.errors import LabelsRefused
from moldcare.pages.access import page, plant_of
from moldcare.pages.acting import attempt, filled
from moldcare.pages.pdf import paper_size, pdf_answer
from moldcare.pages.printing.label_form import LabelForm, form_context, keep_choice, label_form
from moldcare.pages.printing.things import (
    LONGEST_QUESTION,
    Listed,
    Thing,
    What,
    listed_things,
    listing_key,
)
from moldcare.paper.frame import Paper
from moldcare.paper.labels import (
    BarsLeftOut,
    LabelsDocument,
    LabelStock,
    labels_pdf,
    planned_labels,
    ruler_sheet_pdf,
)
from moldcare.plant.models import Plant

LABELS, RULERS = "labels", "rulers"


def what_choices() -> list[tuple[str, str]]:
    """Return the kinds of things that the page lists."""
    return [
        (What.MOLDS.value, _("molds")),
        (What.CIRCUITS.value, _("circuits")),
        (What.PRESSES.value, _("presses")),
        (What.SPOTS.value, _("benches and storage places")),
    ]


def refuse_unknown(listed: Listed) -> None:
    """Refuse to print while a number that was asked for names nothing.

    Raises
    ------
    LabelsRefused
        With the numbers.
    """
    if listed.unknown:
        raise LabelsRefused(
            ngettext(
                "%(numbers)s is not here.",
                "%(numbers)s are not here.",
                len(listed.unknown),
            )
            % {"numbers": ", ".join(listed.unknown)}
        )


def labels_document(
    things: Iterable[Thing],
    *,
    stock: LabelStock,
    plant: Plant,
    address: str,
    holds: str,
    start_at: int = 1,
    offsets_mm: tuple[float, float] = (0.0, 0.0),
) -> LabelsDocument:
    """Put labels together for paper."""
    return LabelsDocument(
        language=plant.language,
        stock=stock,
        labels=[thing.label(address=address, holds=holds) for thing in things],
        plant_name=plant.name,
        start_at=start_at,
        offset_right_mm=offsets_mm[0],
        offset_down_mm=offsets_mm[1],
    )


def _printed(
    form: LabelForm,
    *,
    listed: Listed,
    plant: Plant,
    makes: Callable[[LabelsDocument], Paper],
) -> Paper:
    if makes is labels_pdf:
        refuse_unknown(listed)
    return makes(_document(form, listed=listed, plant=plant))


def _document(form: LabelForm, *, listed: Listed, plant: Plant) -> LabelsDocument:
    data = form.cleaned_data
    return labels_document(
        listed.ticked,
        stock=data["sheet"],
        plant=plant,
        address=data["address"],
        holds=data["code"],
        start_at=data["start"],
        offsets_mm=form.offsets_mm(),
    )


@page()
def print_labels(request: HttpRequest) -> HttpResponse:
    """Choose what gets a label and on which sheet; print it."""
    plant = plant_of(request)
    form = label_form(request, paper=paper_size(request, plant=plant))
    with translation.override(plant.language):
        listed = listed_things(request.GET)
    makes = {LABELS: labels_pdf, RULERS: ruler_sheet_pdf}.get(request.GET.get("print", ""))
    if makes is not None:
        made = attempt(form, lambda: _printed(form, listed=listed, plant=plant, makes=makes))
        if made is not None:
            response = pdf_answer(made.content, name=f"{request.GET['print']}.pdf")
            keep_choice(request, response, form=form)
            return response
    context = {
        "page_title": _("Print labels"),
        "nav_here": "setup",
        "listed": listed,
        "listing_key": listing_key(request.GET),
        "what": request.GET.get("what", ""),
        "whats": what_choices(),
        "q": request.GET.get("q", "").replace("\0", "")[:LONGEST_QUESTION],
        "paper": form.paper.value,
        "notes": _notes(form, listed=listed, plant=plant),
    }
    return filled(request, "printing/print_labels.html", form_context(form, **context), form=form)


def _notes(form: LabelForm, *, listed: Listed, plant: Plant) -> dict[str, list[str]]:
    """Return which numbers get no bars, or no label, and why."""
    notes: dict[str, list[str]] = {"signs": [], "room": [], "refused": []}
    if not form.is_valid():
        return notes
    for planned in planned_labels(_document(form, listed=listed, plant=plant)):
        if planned.layout.code is None:
            notes["refused"].append(planned.label.number)
        elif planned.layout.bars_left_out is BarsLeftOut.SIGNS:
            notes["signs"].append(planned.label.number)
        elif planned.layout.bars_left_out is BarsLeftOut.ROOM:
            notes["room"].append(planned.label.number)
    return notes
