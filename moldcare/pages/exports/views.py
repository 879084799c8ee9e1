"""The page of exports, each list as a file, and the plant as an archive."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right, may
from moldcare.feeds.export.lists import LISTS, SUBJECTS, Subject
from moldcare.feeds.export.shapes import Asked
from moldcare.pages.access import answer, calendar_of, page, person_of, plant_of
from moldcare.pages.exports.forms import SpanForm
from moldcare.pages.exports.saving import as_archive, as_csv, as_workbook, is_too_long
from moldcare.plant.models import Person

CSV, XLSX = "csv", "xlsx"


@page()
def exports(request: HttpRequest) -> HttpResponse:
    """Show what can be saved."""
    return _shown(request, SpanForm(request.GET or None))


@page()
def export_list(request: HttpRequest, name: str, format: str) -> HttpResponseBase:
    """Send a list as a file."""
    shape = LISTS.get(name)
    if shape is None or format not in (CSV, XLSX):
        raise Http404(_("There is no list %(name)s.") % {"name": f"{name}.{format}"[:60]})
    person = person_of(request)
    if not may(person, shape.right):
        return render(request, "403.html", {"role": person}, status=403)
    form = SpanForm(request.GET)
    if not form.is_valid():
        return _shown(request, form)
    zone = ZoneInfo(plant_of(request).zone)
    from_at, to_at = form.span(zone=zone)
    asked = Asked(now=timezone.now(), calendar=calendar_of(request), from_at=from_at, to_at=to_at)
    if format == CSV:
        return as_csv(shape, asked=asked, zone=zone, dialect=form.dialect)
    if is_too_long(shape, asked=asked):
        form.add_error(None, _too_long(name, title=str(shape.title)))
        return _shown(request, form)
    return as_workbook(shape, asked=asked, zone=zone)


@page(looks=Right.EXPORT_PLANT)
def export_plant(request: HttpRequest) -> HttpResponseBase:
    """Send the whole plant as an archive."""
    return as_archive(now=timezone.now(), zone=ZoneInfo(plant_of(request).zone))


def _shown(request: HttpRequest, form: SpanForm) -> HttpResponse:
    person = person_of(request)
    is_wrong = form.is_bound and not form.is_valid()
    context = {
        "page_title": _("Save lists"),
        "nav_here": "setup",
        "form": form,
        "subjects": _subjects(person),
        "query": form.query,
        "may_archive": may(person, Right.EXPORT_PLANT),
    }
    return answer(request, "exports/exports.html", context, status=422 if is_wrong else 200)


def _subjects(person: Person) -> list[Subject]:
    """Return the subjects with the lists that a person may have; none without any."""
    found = (
        replace(subject, lists=tuple(shape for shape in subject.lists if may(person, shape.right)))
        for subject in SUBJECTS
    )
    return [subject for subject in found if subject.lists]


def _too_long(name: str, *, title: str) -> str:
    return _(
        "%(title)s: that is more than a page writes as a workbook. Choose a shorter span, save it "
        "as CSV, or use the command export_list %(name)s on the server."
    ) % {"title": title, "name": name}
