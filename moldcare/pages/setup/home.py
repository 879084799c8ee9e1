"""What the setup shows: its parts, with what is there already and what is missing."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.rights import Right, may
from moldcare.pages.setup.counts import PlantCounts
from moldcare.pages.words import count_words
from moldcare.plant.models import Person, Plant, Rate
from moldcare.plant.queries import lapsing

LAPSES_WITHIN_DAYS = 60


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One part of the setup: how much there is, what is missing, and where it is entered."""

    title: str
    href: str
    figure: str
    say: str
    missing: str = ""
    do_href: str = ""
    do_label: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Parts that belong together; some groups have nothing to count."""

    title: str
    parts: list[Part]
    counts: bool = True


def setup_parts(counts: PlantCounts, *, plant: Plant, person: Person) -> list[Group]:
    """Return the parts that a person may open, in groups."""
    groups = (
        (_("The plant"), _of_the_plant(counts, plant=plant, person=person), True),
        (_("Molds and their care"), _of_molds(counts, person=person), True),
        (_("In and out"), _in_and_out(person), False),
    )
    found = [
        Group(title=title, parts=[part for part in parts if part.href], counts=has_counts)
        for title, parts, has_counts in groups
    ]
    return [group for group in found if group.parts]


def _of_the_plant(counts: PlantCounts, *, plant: Plant, person: Person) -> list[Part]:
    lapse = len(lapsing(timezone.localdate(), within_days=LAPSES_WITHIN_DAYS))
    parts = [
        Part(
            title=_("Plant"),
            href=_href("setup-plant", person=person, right=Right.EDIT_SHIFTS),
            figure="",
            say=f"{plant.name}, {plant.zone}, {plant.currency}" if counts.is_named else "",
            missing="" if counts.is_named else _("Its name and time zone are not entered yet."),
        ),
        Part(
            title=_("Shifts"),
            href=_href("setup-shifts"),
            figure="",
            say=_("The week as it is worked, holidays, single days."),
            missing="" if counts.patterns else _("No shift is entered: nothing can be said by it."),
        ),
        Part(
            title=_("Presses and places"),
            href=_href("setup-spots"),
            figure=count_words(counts.presses + counts.other_spots),
            say=_("Presses, benches, storage places, places away."),
            do_href=_href("setup-spot-add", person=person, right=Right.EDIT_SHIFTS),
            do_label=_("Add a place"),
            missing=""
            if counts.presses and counts.other_spots
            else _("No press yet.")
            if not counts.presses
            else _("No bench and no storage place yet."),
        ),
    ]
    if may(person, Right.RESET_PIN):
        parts.append(
            Part(
                title=_("People"),
                href=_href("setup-people"),
                figure=count_words(counts.people),
                say=_("Roles, badges and PINs, qualifications, training."),
                do_href=_href("setup-person-add", person=person, right=Right.EDIT_PEOPLE),
                do_label=_("Add a person"),
                missing=ngettext(
                    "%(n)s qualification lapses within 60 days or has lapsed.",
                    "%(n)s qualifications lapse within 60 days or have lapsed.",
                    lapse,
                )
                % {"n": lapse}
                if lapse
                else _("Nobody but you yet.")
                if counts.people < 2
                else "",
            )
        )
    if may(person, Right.EDIT_RATES):
        parts.append(
            Part(
                title=_("Rates"),
                href=_href("setup-rates"),
                figure="",
                say=_("What an hour of a press, of a crew, of the toolroom costs."),
                missing="" if Rate.objects.exists() else _("None yet: losses have no price."),
            )
        )
    parts.append(
        Part(
            title=_("Cautions"),
            href=_href("setup-cautions"),
            figure=count_words(counts.cautions) if counts.cautions else "",
            say=_("What orders and sheets print so that nobody gets hurt, and your own beside it."),
            missing="" if plant.lockout_procedure else _("Your lock-out procedure is not named."),
        )
    )
    return parts


def _of_molds(counts: PlantCounts, *, person: Person) -> list[Part]:
    return [
        Part(
            title=_("Molds"),
            href=_href("molds"),
            figure=count_words(counts.molds),
            say=_("Each with its parts, its counter and its rules on a page of its own."),
            do_href=_href("mold-add", person=person, right=Right.EDIT_MOLDS),
            do_label=_("Add a mold"),
            missing=_("No mold yet.")
            if not counts.molds
            else ngettext(
                "%(n)s has no care rule yet.",
                "%(n)s have no care rule yet.",
                counts.molds_without_rules,
            )
            % {"n": count_words(counts.molds_without_rules)}
            if counts.molds_without_rules
            else "",
        ),
        Part(
            title=_("Rule sets"),
            href=_href("rule-sets"),
            figure=count_words(counts.rule_sets),
            say=_("Rules that many molds are given, with where they come from."),
            missing="" if counts.rule_sets else _("None yet: load the starting sets."),
        ),
        Part(
            title=_("Counters"),
            href=_href("setup-counters"),
            figure=count_words(counts.counters),
            say=_("All of them, with where they sit."),
            do_href=_href("counter-add", person=person, right=Right.EXCHANGE_COUNTERS),
            do_label=_("Add a counter"),
            missing=ngettext("%(n)s sits nowhere.", "%(n)s sit nowhere.", counts.loose_counters)
            % {"n": count_words(counts.loose_counters)}
            if counts.loose_counters
            else "",
        ),
        Part(
            title=_("Auxiliaries"),
            href=_href("setup-auxiliaries"),
            figure=count_words(counts.auxiliaries),
            say=_("Temperature controllers, manifolds, lifting gear: what molds depend on."),
            do_href=_href("setup-auxiliary-add", person=person, right=Right.EDIT_MOLDS),
            do_label=_("Add an auxiliary"),
            missing=ngettext(
                "%(n)s has no care rule yet.",
                "%(n)s have no care rule yet.",
                counts.auxiliaries_without_rules,
            )
            % {"n": count_words(counts.auxiliaries_without_rules)}
            if counts.auxiliaries_without_rules
            else "",
        ),
        Part(
            title=_("Owners"),
            href=_href("setup-owners"),
            figure=count_words(counts.owners),
            say=_("Whose property molds are, and how long their records are kept."),
            do_href=_href("setup-owner-add", person=person, right=Right.EDIT_MOLDS),
            do_label=_("Add an owner"),
        ),
        Part(
            title=_("Supplies"),
            href=_href("setup-supplies"),
            figure=count_words(counts.supplies),
            say=_("What work uses up: how much is to be kept, and where."),
            do_href=_href("setup-supply-add", person=person, right=Right.EDIT_MOLDS),
            do_label=_("Add a supply"),
        ),
    ]


def _in_and_out(person: Person) -> list[Part]:
    return [
        Part(title=title, href=_href(name, person=person, right=right), figure="", say=say)
        for title, name, right, say in (
            (
                _("Bring in a mold register"),
                "import-molds",
                Right.IMPORT,
                _("A spreadsheet of molds as you keep it; looked at before anything is written."),
            ),
            (
                _("Bring in a maintenance sheet"),
                "import-rules",
                Right.IMPORT,
                _("Tasks, intervals and when they were last done."),
            ),
            (
                _("Bring in readings"),
                "import-readings",
                Right.IMPORT,
                _("A round in a spreadsheet, or a file from the presses."),
            ),
            (_("Labels"), "print-labels", Right.LOOK, _("For molds, circuits, places, presses.")),
            (
                _("Take lists and the whole plant out"),
                "exports",
                Right.LOOK,
                _("Every list as CSV or workbook; the plant as one archive."),
            ),
        )
    ]


def _href(name: str, *, person: Person | None = None, right: Right = Right.LOOK) -> str:
    """Return the address of a page that is there and that the person may open."""
    if person is not None and not may(person, right):
        return ""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
