"""Upload a file, look at it, bring it in, mend what was kept, take an import back."""

from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.errors import LookedOtherwise
from moldcare.acts.rights import Right
from moldcare.core.errors import DomainError
from moldcare.feeds.bring_in import bring_in
from moldcare.feeds.looks import about_rows, is_outdated, look_at, look_first
from moldcare.feeds.models import ImportBatch, Upload
from moldcare.feeds.queries import (
    batch_numbered,
    batches,
    kept_rows,
    mends_of,
    upload_of,
    uploads_of,
)
from moldcare.feeds.reading_files import ReadingFile, open_reading_file
from moldcare.feeds.register.bring_in import bring_in_register
from moldcare.feeds.register_files import RegisterFile, open_register_file
from moldcare.feeds.uploads import answer_upload, content_of, keep_upload, leave_upload
from moldcare.pages.access import answer, doing, page, person_of, plant_of
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.imports.answers import answers_in
from moldcare.pages.imports.forms import UploadForm
from moldcare.pages.imports.kept import kept_lines, kept_shown
from moldcare.pages.imports.kinds import words_of_kind
from moldcare.pages.imports.preview import preview_of
from moldcare.pages.imports.words import batch_line, given_before, undone_lines, verdict_lines

BATCHES_SHOWN = 10
UPLOADS_SHOWN = 10
ROWS_A_PAGE = 50
NOT_IN_THE_STORE = gettext_lazy("%(name)s is not in the store any more. Bring it in again.")

READINGS = ImportBatch.Kind.READINGS


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_readings(request: HttpRequest) -> HttpResponse:
    """Take a file of readings in to be looked at."""
    return _upload(request, kind=READINGS)


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_molds(request: HttpRequest) -> HttpResponse:
    """Take a mold register in to be looked at."""
    return _upload(request, kind=ImportBatch.Kind.MOLDS)


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_rules(request: HttpRequest) -> HttpResponse:
    """Take a maintenance sheet in to be looked at."""
    return _upload(request, kind=ImportBatch.Kind.RULES)


def _upload(request: HttpRequest, *, kind: str) -> HttpResponse:
    files = request.FILES if request.method == "POST" else None
    form = UploadForm(sent(request), files, kind=kind)
    upload = attempt(
        form,
        lambda: keep_upload(
            doing(request),
            name=form.cleaned_data["file"].name,
            content=form.cleaned_data["file"].read(),
            kind=kind,
        ),
    )
    if upload is not None:
        look_first(doing(request), upload=upload, zone=_zone(request))
        return redirect("import-preview", pk=upload.pk)
    words = words_of_kind(kind)
    context = {
        "page_title": words.title,
        "nav_here": words.nav_here,
        "now": timezone.now(),
        "words": words,
        "waiting": uploads_of(person_of(request), kind=kind)[:UPLOADS_SHOWN],
        "batches": [batch_line(batch) for batch in batches(kind=kind)[:BATCHES_SHOWN]],
    }
    return filled(request, "imports/upload.html", context, form=form)


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what would become of a file; answer its questions; bring it in, or leave it."""
    upload = upload_of(person_of(request), number=pk)
    if upload is None:
        return _gone(request)
    if request.method != "POST":
        return _looked_at(request, upload)
    if "leave" in request.POST:
        leave_upload(doing(request), upload=upload)
        messages.success(request, _("The file is left; nothing was written."))
        return redirect(words_of_kind(upload.kind).upload)
    answers = {} if "afresh" in request.POST else {**upload.answers, **answers_in(request.POST)}
    answers = {key: text for key, text in answers.items() if text}
    if "to" in request.POST:
        if answers != upload.answers:
            answer_upload(doing(request), upload=upload, answers=answers)
        return _to(upload, asked_for=QueryDict(request.POST["to"]))
    is_same = about_rows(answers) == about_rows(upload.answers)
    if "apply" in request.POST and is_same and not is_outdated(upload):
        if answers != upload.answers:
            answer_upload(doing(request), upload=upload, answers=answers)
            upload.answers = answers
        return _applied(request, upload)
    return _look(request, upload, answers=answers)


def _look(request: HttpRequest, upload: Upload, *, answers: dict[str, str]) -> HttpResponse:
    """Judge the rows of a file with what was answered, and show what becomes of them."""
    refused = _looked_again(request, upload, answers=answers)
    if refused:
        return _looked_at(request, upload, refused=refused)
    if "apply" in request.POST:
        said = _("You changed an answer. Look at what becomes of the rows, then bring them in.")
        messages.warning(request, said)
    return _to(upload, asked_for=request.GET)


def _looked_again(request: HttpRequest, upload: Upload, *, answers: dict[str, str]) -> str:
    """Judge the rows of a file; return why that cannot be done, nothing where it was."""
    try:
        look_at(doing(request), upload=upload, answers=answers, zone=_zone(request))
    except DomainError as error:
        return str(error)
    except FileNotFoundError:
        return NOT_IN_THE_STORE % {"name": upload.name}
    return ""


def _to(upload: Upload, *, asked_for: QueryDict) -> HttpResponse:
    """Go to the rows that are asked for."""
    wanted = _wanted(asked_for)
    address = reverse("import-preview", kwargs={"pk": upload.pk})
    return redirect(f"{address}?{urlencode(wanted)}" if wanted else address)


def _wanted(asked_for: QueryDict) -> dict[str, str]:
    """Return which rows are asked for, and nothing else that stands in an address."""
    return {key: str(asked_for[key]) for key in ("show", "page") if asked_for.get(key)}


def _zone(request: HttpRequest) -> ZoneInfo:
    return ZoneInfo(plant_of(request).zone)


def _gone(request: HttpRequest) -> HttpResponse:
    """Answer a second tap with what the first one did; say that there is no such file else."""
    number = given_before(request.POST.get("hand_in", ""), person=person_of(request))
    if number is None:
        raise Http404(
            _(
                "That file is not here any more: it was brought in or left meanwhile. Bring it in "
                "again if you need it; what is here already is not written twice."
            )
        )
    return redirect("import-batch", pk=number)


def _looked_at(request: HttpRequest, upload: Upload, *, refused: str = "") -> HttpResponse:
    """Show what was found when a file was looked at; nothing is judged here."""
    look = getattr(upload, "look", None)
    context: dict[str, Any] = {
        "page_title": _("Look at a file"),
        "nav_here": words_of_kind(upload.kind).nav_here,
        "now": timezone.now(),
        "upload": upload,
        "answers": upload.answers,
        "shown": preview_of(upload, asked_for=request.GET),
        "refused": refused or (look.refused if look is not None else ""),
        "query": urlencode(_wanted(request.GET)),
    }
    return answer(request, "imports/preview.html", context, status=422 if refused else 200)


def _applied(request: HttpRequest, upload: Upload) -> HttpResponse:
    """Bring in what is good; a file with an open question stays as it is."""
    try:
        number = _brought(request, upload)
    except LookedOtherwise as error:
        refused = _looked_again(request, upload, answers=upload.answers)
        messages.warning(request, refused or str(error))
        return _to(upload, asked_for=request.GET)
    except DomainError as error:
        return _looked_at(request, upload, refused=str(error))
    except FileNotFoundError:
        return _looked_at(request, upload, refused=NOT_IN_THE_STORE % {"name": upload.name})
    if number is None:
        said = _("Answer what is asked first; nothing was written.")
        return _looked_at(request, upload, refused=said)
    leave_upload(doing(request), upload=upload)
    messages.success(request, _("The file is brought in."))
    return redirect("import-batch", pk=number)


def _brought(request: HttpRequest, upload: Upload) -> int | None:
    """Bring a file in; return the number of its import, None while a question is open."""
    given: dict[str, Any] = {
        "name": upload.name,
        "zone": _zone(request),
        "answers": upload.answers,
    }
    file: ReadingFile | RegisterFile
    with content_of(upload) as stream:
        if upload.kind == READINGS:
            file = open_reading_file(stream, **given)
        else:
            file = open_register_file(stream, kind=upload.kind, **given)
        if file.plan.open_questions:
            return None
        if isinstance(file, ReadingFile):
            return bring_in(doing_again(request), file=file).batch_id
        hashed = upload.look.verdicts_hash
        return bring_in_register(doing_again(request), file=file, looked_at=hashed).batch_id


@page(looks=Right.IMPORT)
def import_batch(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what a file brought, the rows that were kept, and what became of it since."""
    batch = batch_or_404(pk)
    shown = Paginator(kept_rows(batch), ROWS_A_PAGE).get_page(request.GET.get("page"))
    headings = batch.answers.get("headings", [])
    context = {
        "page_title": _("Brought in"),
        "nav_here": words_of_kind(batch.kind).nav_here,
        "now": timezone.now(),
        "batch": batch,
        "words": words_of_kind(batch.kind),
        "is_register": batch.kind != READINGS,
        "counts": verdict_lines(batch.counts),
        "undone": undone_lines(batch),
        "mends": mends_of(batch),
        "page": shown,
        "headings": headings,
        "lines": kept_shown(shown.object_list, headings=headings),
    }
    return answer(request, "imports/batch.html", context)


@page(looks=Right.IMPORT)
def import_kept(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """Send the rows that were kept, to be mended and brought in again."""
    batch = batch_or_404(pk)
    response = StreamingHttpResponse(kept_lines(batch), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="kept-{batch.pk}.csv"'
    return response


def batch_or_404(number: int) -> ImportBatch:
    """Return the import with this number, or the page that says there is none."""
    batch = batch_numbered(number)
    if batch is None:
        raise Http404(_("There is no import %(number)s.") % {"number": number})
    return batch
