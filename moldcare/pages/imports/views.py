"""Upload a file, look at it, bring it in, mend what was kept, take an import back."""

from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right
from moldcare.core.errors import DomainError
from moldcare.feeds.bring_in import bring_in
from moldcare.feeds.models import ImportBatch, Upload
from moldcare.feeds.queries import batch_numbered, batches, kept_rows, mends_of, upload_of
from moldcare.feeds.reading_files import ReadingFile, open_reading_file
from moldcare.feeds.register.bring_in import bring_in_register
from moldcare.feeds.register_files import RegisterFile, open_register_file
from moldcare.feeds.uploads import answer_upload, content_of, keep_upload, leave_upload
from moldcare.pages.access import answer, doing, page, person_of, plant_of
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.imports.forms import UploadForm
from moldcare.pages.imports.kept import kept_lines, kept_shown
from moldcare.pages.imports.kinds import words_of_kind
from moldcare.pages.imports.preview import answers_in, preview_of
from moldcare.pages.imports.register_preview import register_preview_of
from moldcare.pages.imports.words import batch_line, given_before, undone_lines, verdict_lines

BATCHES_SHOWN = 10
ROWS_A_PAGE = 50

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
        return redirect("import-preview", pk=upload.pk)
    words = words_of_kind(kind)
    context = {
        "page_title": words.title,
        "nav_here": words.nav_here,
        "now": timezone.now(),
        "words": words,
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
        return _looked_at(request, upload, answers=upload.answers)
    if "leave" in request.POST:
        leave_upload(doing(request), upload=upload)
        messages.success(request, _("The file is left; nothing was written."))
        return redirect(words_of_kind(upload.kind).upload)
    answers = {} if "afresh" in request.POST else {**upload.answers, **answers_in(request.POST)}
    is_changed = {key: text for key, text in answers.items() if text} != upload.answers
    if "apply" in request.POST and not is_changed:
        return _applied(request, upload)
    response = _looked_at(request, upload, answers=answers)
    if response.status_code == 200:
        answer_upload(doing(request), upload=upload, answers=answers)
        if "apply" in request.POST:
            said = _("You changed an answer. Look at what becomes of the rows, then bring them in.")
            messages.warning(request, said)
        return redirect("import-preview", pk=upload.pk)
    return response


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


def _looked_at(
    request: HttpRequest, upload: Upload, *, answers: dict[str, str], refused: str = ""
) -> HttpResponse:
    is_readings = upload.kind == READINGS
    context: dict[str, Any] = {
        "page_title": _("Look at a file"),
        "nav_here": words_of_kind(upload.kind).nav_here,
        "now": timezone.now(),
        "upload": upload,
        "answers": answers,
        "refused": refused,
    }
    zone = ZoneInfo(plant_of(request).zone)
    look: Any = preview_of if is_readings else register_preview_of
    try:
        shown = look(doing(request), upload=upload, answers=answers, zone=zone)
    except DomainError as error:
        context["refused"] = str(error)
    except FileNotFoundError:
        context["refused"] = _("The file is not in the store any more. Bring it in again.")
    else:
        context |= {"shown": shown, "counts": shown.counts}
    status = 422 if context["refused"] and request.method == "POST" else 200
    template = "imports/preview.html" if is_readings else "imports/register.html"
    return answer(request, template, context, status=status)


def _applied(request: HttpRequest, upload: Upload) -> HttpResponse:
    """Bring in what is good; a file with an open question stays as it is."""
    try:
        number = _brought(request, upload)
    except DomainError as error:
        return _looked_at(request, upload, answers=upload.answers, refused=str(error))
    except FileNotFoundError:
        return _looked_at(request, upload, answers=upload.answers)
    if number is None:
        said = _("Answer what is asked first; nothing was written.")
        return _looked_at(request, upload, answers=upload.answers, refused=said)
    leave_upload(doing(request), upload=upload)
    messages.success(request, _("The file is brought in."))
    return redirect("import-batch", pk=number)


def _brought(request: HttpRequest, upload: Upload) -> int | None:
    """Bring a file in; return the number of its import, None while a question is open."""
    zone = ZoneInfo(plant_of(request).zone)
    given: dict[str, Any] = {"name": upload.name, "zone": zone, "answers": upload.answers}
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
        return bring_in_register(doing_again(request), file=file).batch_id


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
