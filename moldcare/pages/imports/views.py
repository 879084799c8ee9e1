"""Upload a file of readings, look at it, bring it in, mend what was kept."""

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
from moldcare.feeds.models import Upload
from moldcare.feeds.queries import batch_numbered, batches, kept_rows, upload_of
from moldcare.feeds.reading_files import open_reading_file
from moldcare.feeds.uploads import answer_upload, content_of, keep_upload, leave_upload
from moldcare.pages.access import answer, doing, page, person_of, plant_of
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.imports.forms import UploadForm
from moldcare.pages.imports.kept import kept_lines, kept_shown
from moldcare.pages.imports.preview import answers_in, preview_of
from moldcare.pages.imports.words import batch_line, given_before, verdict_lines

BATCHES_SHOWN = 10
ROWS_A_PAGE = 50


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_readings(request: HttpRequest) -> HttpResponse:
    """Take a file in to be looked at."""
    form = UploadForm(sent(request), request.FILES if request.method == "POST" else None)
    upload = attempt(
        form,
        lambda: keep_upload(
            doing(request),
            name=form.cleaned_data["file"].name,
            content=form.cleaned_data["file"].read(),
        ),
    )
    if upload is not None:
        return redirect("import-preview", pk=upload.pk)
    context = {
        "page_title": _("Bring in readings"),
        "nav_here": "readings",
        "now": timezone.now(),
        "batches": [batch_line(batch) for batch in batches()[:BATCHES_SHOWN]],
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
        return redirect("import-readings")
    answers = {} if "afresh" in request.POST else {**upload.answers, **answers_in(request.POST)}
    is_changed = any(text and upload.answers.get(key) != text for key, text in answers.items())
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
                "again if you need it; readings that are here are not written twice."
            )
        )
    return redirect("import-batch", pk=number)


def _looked_at(
    request: HttpRequest, upload: Upload, *, answers: dict[str, str], refused: str = ""
) -> HttpResponse:
    context: dict[str, Any] = {
        "page_title": _("Look at a file"),
        "nav_here": "readings",
        "now": timezone.now(),
        "upload": upload,
        "answers": answers,
        "refused": refused,
    }
    zone = ZoneInfo(plant_of(request).zone)
    try:
        shown = preview_of(doing(request), upload=upload, answers=answers, zone=zone)
    except DomainError as error:
        context["refused"] = str(error)
    except FileNotFoundError:
        context["refused"] = _("The file is not in the store any more. Bring it in again.")
    else:
        context |= {"shown": shown, "counts": shown.counts}
    status = 422 if context["refused"] and request.method == "POST" else 200
    return answer(request, "imports/preview.html", context, status=status)


def _applied(request: HttpRequest, upload: Upload) -> HttpResponse:
    """Bring in what is good; a file with an open question stays as it is."""
    zone = ZoneInfo(plant_of(request).zone)
    try:
        with content_of(upload) as stream:
            file = open_reading_file(stream, name=upload.name, zone=zone, answers=upload.answers)
            if file.plan.open_questions:
                said = _("Answer what is asked first; nothing was written.")
                return _looked_at(request, upload, answers=upload.answers, refused=said)
            done = bring_in(doing_again(request), file=file)
    except DomainError as error:
        return _looked_at(request, upload, answers=upload.answers, refused=str(error))
    except FileNotFoundError:
        return _looked_at(request, upload, answers=upload.answers)
    leave_upload(doing(request), upload=upload)
    messages.success(request, _("The file is brought in."))
    return redirect("import-batch", pk=done.batch_id)


@page(looks=Right.IMPORT)
def import_batch(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what a file brought, and the rows that were kept."""
    batch = batch_numbered(pk)
    if batch is None:
        raise Http404(_("There is no import %(number)s.") % {"number": pk})
    shown = Paginator(kept_rows(batch), ROWS_A_PAGE).get_page(request.GET.get("page"))
    headings = batch.answers.get("headings", [])
    context = {
        "page_title": _("Brought in"),
        "nav_here": "readings",
        "now": timezone.now(),
        "batch": batch,
        "counts": verdict_lines(batch.counts),
        "page": shown,
        "headings": headings,
        "lines": kept_shown(shown.object_list, headings=headings),
    }
    return answer(request, "imports/batch.html", context)


@page(looks=Right.IMPORT)
def import_kept(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """Send the rows that were kept, to be mended and brought in again."""
    batch = batch_numbered(pk)
    if batch is None:
        raise Http404(_("There is no import %(number)s.") % {"number": pk})
    response = StreamingHttpResponse(kept_lines(batch), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="kept-{batch.pk}.csv"'
    return response
