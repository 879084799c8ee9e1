"""The record of a mold, put together for paper."""

from collections.abc import Iterator
from datetime import date, datetime

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from moldcare.core.units import Quantity
from moldcare.counters.models import Life
from moldcare.files import store
from moldcare.molds.models import CycleTime, Mold
from moldcare.molds.queries import blocked_cavities, condition_of, parts_out_of, place_of
from moldcare.pages.access import page, person_of, plant_of
from moldcare.pages.acting import mold_or_404
from moldcare.pages.pdf import paper_size, pdf_answer
from moldcare.pages.printing import record_sections as sections
from moldcare.pages.printing.saying import Saying
from moldcare.paper.mold_record import Fact, MarkingLine, MoldRecord, mold_record_pdf
from moldcare.plant.queries import the_calendar, the_plant


def mold_record(mold: Mold, *, at: datetime, printed_by: str, code_text: str = "") -> MoldRecord:
    """Put the record of a mold together as it stands at an instant."""
    plant = the_plant()
    say, calendar = Saying.of(plant), the_calendar(plant)
    with translation.override(plant.language), timezone.override(say.zone):
        life = Life.objects.filter(mold=mold).first()
        rules, rules_more = sections.printed_rules(mold, at=at, calendar=calendar, say=say)
        return MoldRecord(
            language=plant.language,
            number=mold.number,
            name=mold.name,
            facts=list(_facts(mold, at=at, life=life, say=say)),
            marking=_marking(mold, say=say),
            life=sections.life_section(mold, life=life, say=say),
            rules=rules,
            rules_said=sections.rules_words(rules),
            rules_more=rules_more,
            sections=[
                sections.services_section(mold, say=say),
                sections.people_section(mold, at=at, say=say),
                sections.set_up_section(mold, say=say),
                sections.storage_section(mold, say=say),
                sections.change_plan_section(mold, at=at, calendar=calendar),
                sections.modifications_section(mold, say=say),
                sections.parts_section(mold, say=say),
                sections.supplies_section(mold, say=say),
            ],
            code_text=code_text,
            printed_at=say.moment(at),
            printed_by=printed_by,
            plant_name=plant.name,
        )


def _facts(mold: Mold, *, at: datetime, life: Life | None, say: Saying) -> Iterator[Fact]:
    stay, condition = place_of(mold, at=at), condition_of(mold)
    yield Fact(
        label=_("place"),
        lines=[sections.spot_words(stay.spot), say.since(stay.at)] if stay else [_("not known")],
    )
    if condition is None:
        yield Fact(label=_("condition"), lines=[_("not noted yet")])
    else:
        said = [str(condition.get_condition_display()), say.since(condition.at)]
        if condition.needs_next:
            said.append(_("needs %(what)s next") % {"what": condition.get_needs_next_display()})
        yield Fact(label=_("condition"), lines=said)
    yield Fact(label=_("owner"), lines=_owner_words(mold))
    yield Fact(label=_("records kept until"), lines=[_kept_words(mold, at=at, say=say)])
    yield Fact(label=_("cavities"), lines=_cavity_words(mold))
    kinds = [mold.mold_class or _("not entered"), mold.finish]
    yield Fact(label=_("class"), lines=[kind for kind in kinds if kind])
    yield Fact(label=_("resins"), lines=[mold.resin or _("not entered")])
    yield Fact(label=_("mass of the halves"), lines=_mass_words(mold, say=say))
    cycle = CycleTime.objects.filter(mold=mold, valid_from__lte=at).order_by("valid_from", "id")
    newest = cycle.last()
    if newest is not None and newest.standard_s is not None:
        yield Fact(label=_("cycle time"), lines=[say.quantity(newest.standard_s, unit="s")])
    configurations = ", ".join(mold.configurations.order_by("id").values_list("name", flat=True))
    if configurations:
        yield Fact(label=_("configurations"), lines=[configurations])
    yield Fact(label=_("entered here"), lines=[say.day_of(mold.entered_at)])
    out = parts_out_of(mold)
    if out:
        yield Fact(label=_("parts out"), lines=[", ".join(each.ident for each in out)])


def _owner_words(mold: Mold) -> list[str]:
    if mold.owner is None:
        return [_("the plant's own")]
    said = [mold.owner.name]
    if mold.owner.is_customer:
        said.append(_("customer's property"))
    if mold.owner.contact:
        said.append(mold.owner.contact)
    return said


def _kept_words(mold: Mold, *, at: datetime, say: Saying) -> str:
    """Return until when what is written today is kept, by what was agreed with the owner."""
    years = mold.owner.retention_years if mold.owner else None
    if years is None:
        return _("nothing agreed")
    on = at.astimezone(say.zone).date()
    year = min(on.year + years, date.max.year)
    # 29 February has no anniversary in most years: the last day of that month
    day = 28 if (on.month, on.day) == (2, 29) else on.day
    return say.day(date(year, on.month, day))


def _cavity_words(mold: Mold) -> list[str]:
    blocked = blocked_cavities([mold.pk]).get(mold.pk, [])
    if not blocked:
        return [f"{mold.cavity_count}"]
    active = mold.cavity_count - len(blocked)
    names = ", ".join(cavity.ident for cavity in blocked)
    return [
        _("%(active)d of %(count)d run") % {"active": active, "count": mold.cavity_count},
        _("blocked: %(names)s") % {"names": names},
    ]


def _mass_words(mold: Mold, *, say: Saying) -> list[str]:
    halves = (("A", mold.mass_a_kg), ("B", mold.mass_b_kg))
    said = [
        f"{half} {say.measure(mass, quantity=Quantity.MASS)}"
        for half, mass in halves
        if mass is not None
    ]
    return said or [_("not entered")]


def _marking(mold: Mold, *, say: Saying) -> MarkingLine:
    said, sha256 = sections.marking_words(mold, say=say)
    if mold.owner is not None and mold.owner.is_customer:
        said = _("Property of %(owner)s.") % {"owner": mold.owner.name} + f" {said}"
    if not sha256:
        return MarkingLine(said=said)
    try:
        return MarkingLine(said=said, photo=store.content(sha256))
    except OSError:
        return MarkingLine(said=f"{said} {_('The photo is not in the store any more.')}")


@page()
def mold_record_print(request: HttpRequest, number: str) -> HttpResponse:
    """Give the record of a mold as a PDF, as it stands now."""
    mold = mold_or_404(number)
    record = mold_record(
        mold,
        at=timezone.now(),
        printed_by=person_of(request).name,
        code_text=request.build_absolute_uri(reverse("mold", kwargs={"number": mold.number})),
    )
    paper = mold_record_pdf(record, paper_size=paper_size(request, plant=plant_of(request)))
    return pdf_answer(paper.content, name="mold-record.pdf")
