"""People: who may do what, what they are qualified for, and what lapses."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.contrib import messages
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.people import (
    add_person,
    add_qualification,
    add_training,
    edit_person,
    set_password,
    set_pin,
)
from moldcare.acts.rights import Right, may
from moldcare.care.models import CareRule
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import attempt, doing_again, row_or_404, sent
from moldcare.pages.setup.acting import act_page, form_page, values_of
from moldcare.pages.setup.home import LAPSES_WITHIN_DAYS
from moldcare.pages.setup.people_forms import (
    FIELDS,
    NoLongerForm,
    PasswordForm,
    PersonForm,
    PinForm,
    QualificationForm,
    TrainingForm,
)
from moldcare.plant.models import Person, Qualification, Training
from moldcare.plant.queries import Qualified, lapsing, qualifications_on


@dataclass(frozen=True, kw_only=True, slots=True)
class PersonLine:
    """Somebody, with what they are qualified for and their training this year."""

    person: Person
    qualified: list[Qualified]
    hours: Decimal


@page(looks=Right.RESET_PIN)
def setup_people(request: HttpRequest) -> HttpResponse:
    """List everybody, what lapses soon first."""
    today = timezone.localdate()
    lines = _lines(today)
    context = {
        "page_title": _("People"),
        "nav_here": "setup",
        "lapsing": lapsing(today, within_days=LAPSES_WITHIN_DAYS),
        "lines": [line for line in lines if line.person.is_active],
        "out": [line for line in lines if not line.person.is_active],
        "today": today,
        "days": LAPSES_WITHIN_DAYS,
        "may_edit": may(person_of(request), Right.EDIT_PEOPLE),
    }
    return answer(request, "setup/people.html", context)


def _lines(today: date) -> list[PersonLine]:
    qualified: dict[int, list[Qualified]] = defaultdict(list)
    for row in qualifications_on(today):
        qualified[row.person.pk].append(row)
    trained = Training.objects.filter(on__year=today.year).values_list("person")
    hours = dict(trained.annotate(sum=Sum("hours")).values_list("person", "sum"))
    return [
        PersonLine(
            person=person, qualified=qualified[person.pk], hours=hours.get(person.pk, Decimal(0))
        )
        for person in Person.objects.order_by("name", "id")
    ]


@page(looks=Right.RESET_PIN)
def person(request: HttpRequest, person: int) -> HttpResponse:
    """Show one person: how they sign on, what they are qualified for, their training."""
    row: Person = row_or_404(Person.objects.all(), person)
    today = timezone.localdate()
    signed_in = person_of(request)
    is_manager = may(signed_in, Right.EDIT_PEOPLE)
    context = {
        "page_title": row.name,
        "nav_here": "setup",
        "row": row,
        "qualified": qualifications_on(today, people=[row.pk]),
        "trainings": Training.objects.filter(person=row).order_by("-on", "-id"),
        "today": today,
        "may_edit": is_manager,
        "may_set_pin": is_manager or row.role != Person.Role.MANAGER or row.pk == signed_in.pk,
    }
    return answer(request, "setup/person.html", context)


@page(looks=Right.EDIT_PEOPLE, writes=Right.EDIT_PEOPLE)
def person_add(request: HttpRequest) -> HttpResponse:
    """Add somebody."""
    form, done = PersonForm(sent(request)), doing_again(request)
    written = attempt(form, lambda: add_person(done, **form.written))
    if written is not None:
        messages.success(request, _("%(name)s is added.") % {"name": form.cleaned_data["name"]})
        return redirect("setup-person", person=written.row_id)
    return form_page(
        request,
        form,
        title=_("Add a person"),
        lead=_("Everybody who writes has a name of their own here: the logbook keeps it."),
        submit=_("Add the person"),
        back=reverse("setup-people"),
    )


@page(looks=Right.EDIT_PEOPLE, writes=Right.EDIT_PEOPLE)
def person_edit(request: HttpRequest, person: int) -> HttpResponse:
    """Change who somebody is, their role, or whether they may sign in."""
    row: Person = row_or_404(Person.objects.all(), person)
    form, done = PersonForm(sent(request), person=row), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: edit_person(done, person=row, changes=values_of(form, names=FIELDS)),
        said=lambda: _("%(name)s is changed.") % {"name": form.cleaned_data["name"]},
        title=_("Change %(name)s") % {"name": row.name},
        lead=_("What is signed already keeps the name and role of its day."),
        submit=_("Change it"),
        back=reverse("setup-person", kwargs={"person": row.pk}),
        changes_what_is=True,
    )


@page(looks=Right.RESET_PIN, writes=Right.RESET_PIN)
def person_pin(request: HttpRequest, person: int) -> HttpResponse:
    """Set somebody's PIN."""
    row: Person = row_or_404(Person.objects.all(), person)
    form, done = PinForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: set_pin(done, person=row, pin=form.cleaned_data["pin"]),
        said=lambda: _("%(name)s has a new PIN.") % {"name": row.name},
        title=_("Set the PIN of %(name)s") % {"name": row.name},
        lead=_("Let them type it themselves. It is kept nowhere in a form that can be read."),
        submit=_("Set the PIN"),
        back=reverse("setup-person", kwargs={"person": row.pk}),
    )


@page(looks=Right.EDIT_PEOPLE, writes=Right.EDIT_PEOPLE)
def person_password(request: HttpRequest, person: int) -> HttpResponse:
    """Set somebody's password."""
    row: Person = row_or_404(Person.objects.all(), person)
    form, done = PasswordForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: set_password(done, person=row, password=form.cleaned_data["password"]),
        said=lambda: _("%(name)s has a new password.") % {"name": row.name},
        title=_("Set the password of %(name)s") % {"name": row.name},
        lead=_("Let them type it themselves. It is kept nowhere in a form that can be read."),
        submit=_("Set the password"),
        back=reverse("setup-person", kwargs={"person": row.pk}),
    )


@page(looks=Right.EDIT_PEOPLE, writes=Right.EDIT_PEOPLE)
def person_qualify(request: HttpRequest, person: int) -> HttpResponse:
    """Write down what somebody is qualified for."""
    row: Person = row_or_404(Person.objects.all(), person)
    done = doing_again(request)
    form = QualificationForm(sent(request), subjects=_asked(), today=timezone.localdate())
    return act_page(
        request,
        form,
        act=lambda: add_qualification(done, person=row, **form.cleaned_data),
        said=lambda: _("The qualification is written down."),
        title=_("What %(name)s is qualified for") % {"name": row.name},
        lead=_("Written again with a new end, it is renewed."),
        submit=_("Write it down"),
        back=reverse("setup-person", kwargs={"person": row.pk}),
    )


def _asked() -> list[str]:
    """Return what rules ask somebody to be qualified for, and what people are already."""
    rules = CareRule.objects.filter(withdrawn_at__isnull=True).exclude(qualification="")
    asked = set(rules.values_list("qualification", flat=True))
    return sorted(asked | set(Qualification.objects.values_list("subject", flat=True)))


@page(looks=Right.EDIT_PEOPLE, writes=Right.EDIT_PEOPLE)
def person_disqualify(request: HttpRequest, person: int, qualification: int) -> HttpResponse:
    """Write down that somebody is not qualified for something any more."""
    row: Person = row_or_404(Person.objects.all(), person)
    held: Qualification = row_or_404(row.qualifications.all(), qualification)
    subject, today = held.subject, timezone.localdate()
    form, done = NoLongerForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_qualification(
            done,
            person=row,
            subject=subject,
            evidence=form.cleaned_data["evidence"],
            valid_from=today,
            is_withdrawn=True,
        ),
        said=lambda: _("The qualification is withdrawn."),
        title=_("%(name)s: no longer qualified for %(subject)s")
        % {"name": row.name, "subject": subject},
        lead=_("From today on. What they signed before stays."),
        submit=_("Withdraw it"),
        back=reverse("setup-person", kwargs={"person": row.pk}),
    )


@page(looks=Right.EDIT_PEOPLE, writes=Right.EDIT_PEOPLE)
def person_train(request: HttpRequest, person: int) -> HttpResponse:
    """Write down hours of training."""
    row: Person = row_or_404(Person.objects.all(), person)
    form, done = TrainingForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_training(done, person=row, **form.cleaned_data),
        said=lambda: _("The training is written down."),
        title=_("Training of %(name)s") % {"name": row.name},
        submit=_("Write it down"),
        back=reverse("setup-person", kwargs={"person": row.pk}),
    )
