"""The first hours in an empty plant: what to enter first, what is done, and files to try with."""

from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.urls import NoReverseMatch, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from moldcare.acts.rights import Right, may
from moldcare.pages.access import answer, page, person_of, plant_of
from moldcare.pages.setup.counts import PlantCounts, plant_counts
from moldcare.plant.models import Person

FILES = Path(settings.BASE_DIR) / "fixtures"


@dataclass(frozen=True, kw_only=True, slots=True)
class Example:
    """A file to try an import with; everything in it is invented."""

    name: str
    folder: str
    says: str | Promise

    @property
    def path(self) -> Path:
        """Where it lies."""
        return FILES / self.folder / self.name

    @property
    def href(self) -> str:
        """Where it is downloaded."""
        return reverse("setup-example", kwargs={"example": self.name})


MOLD_FILES = (
    Example(
        name="register-plain.csv",
        folder="registers",
        says=gettext_lazy("a mold register, one row a mold"),
    ),
    Example(
        name="register-behind-notes.xlsx",
        folder="registers",
        says=gettext_lazy("a workbook with the register behind other sheets"),
    ),
)
RULE_FILES = (
    Example(
        name="sheet-one-row-a-task.csv",
        folder="registers",
        says=gettext_lazy("a maintenance sheet, one row a mold and task"),
    ),
    Example(
        name="sheet-column-a-task.csv",
        folder="registers",
        says=gettext_lazy("one row a mold, two columns a task"),
    ),
)
READING_FILES = (
    Example(
        name="shift-round.csv",
        folder="readings",
        says=gettext_lazy("a round of readings, one row each"),
    ),
    Example(
        name="weekly-workbook.xlsx",
        folder="readings",
        says=gettext_lazy("a workbook with a column a mold"),
    ),
)
EXAMPLES = {each.name: each for each in (*MOLD_FILES, *RULE_FILES, *READING_FILES)}


@dataclass(frozen=True, kw_only=True, slots=True)
class Way:
    """A link to where something is entered."""

    label: str
    href: str


@dataclass(frozen=True, kw_only=True, slots=True)
class BeginStep:
    """One thing to enter, in the order in which the others need it."""

    title: str
    say: str
    is_done: bool
    there: str
    ways: list[Way]
    files: list[Example]
    loads_sets: bool = False
    is_the_manager_s: bool = False


@page()
def setup_begin(request: HttpRequest) -> HttpResponse:
    """Show what to enter first, with what is done already."""
    steps = _steps(plant_counts(plant_of(request)), person=person_of(request))
    left = [step for step in steps if not step.is_done]
    context = {
        "page_title": _("What to enter first"),
        "nav_here": "setup",
        "steps": steps,
        "next": left[0] if left else None,
        "left": len(left),
    }
    return answer(request, "setup/begin.html", context)


@page()
def setup_example(request: HttpRequest, example: str) -> FileResponse:
    """Send one of the files to try an import with; only those that are named here."""
    found = EXAMPLES.get(example)
    if found is None or not found.path.is_file():
        raise Http404(_("There is no such example file."))
    return FileResponse(found.path.open("rb"), as_attachment=True, filename=found.name)


def _steps(counts: PlantCounts, *, person: Person) -> list[BeginStep]:
    return [
        BeginStep(
            title=_("The plant"),
            say=_("Its name and its time zone: every date and shift hangs on them."),
            is_done=counts.is_named,
            there=counts.plant_name,
            ways=_ways(person, (Right.EDIT_SHIFTS, _("Enter the plant"), "setup-plant")),
            files=[],
        ),
        BeginStep(
            title=_("Shifts"),
            say=_("The week as it is worked, and the holidays: due work is said by the shift."),
            is_done=counts.patterns > 0,
            there=_("The week is entered.") if counts.patterns else "",
            ways=_ways(
                person,
                (Right.EDIT_SHIFTS, _("Enter the week"), "setup-shifts-pattern"),
                (Right.EDIT_SHIFTS, _("Enter holidays"), "setup-shifts-holidays"),
            ),
            files=[],
        ),
        BeginStep(
            title=_("Presses, benches, storage places"),
            say=_("Where molds can be. Many at once: “R1-01 to R1-40”."),
            is_done=counts.presses > 0 and counts.other_spots > 0,
            there=_spots_words(counts),
            ways=_ways(
                person,
                (Right.EDIT_SHIFTS, _("Add many at once"), "setup-spots-many"),
                (Right.EDIT_SHIFTS, _("Add one"), "setup-spot-add"),
            ),
            files=[],
        ),
        BeginStep(
            title=_("People"),
            say=_(
                "Everybody who will write down work or readings, with badge and PIN for the "
                "shared tablets."
            ),
            is_done=counts.people > 1,
            there=ngettext("%(n)s person", "%(n)s people", counts.people) % {"n": counts.people}
            if counts.people > 1
            else "",
            ways=_ways(person, (Right.EDIT_PEOPLE, _("Add a person"), "setup-person-add")),
            files=[],
            is_the_manager_s=True,
        ),
        BeginStep(
            title=_("Rule sets"),
            say=_("Starting values for the care of molds, from experience; to be checked by you."),
            is_done=counts.rule_sets > 0,
            there=ngettext("%(n)s set", "%(n)s sets", counts.rule_sets) % {"n": counts.rule_sets}
            if counts.rule_sets
            else "",
            ways=_ways(person, (Right.LOOK, _("Rule sets"), "rule-sets")),
            files=[],
            loads_sets=not counts.rule_sets and may(person, Right.EDIT_RULES),
        ),
        BeginStep(
            title=_("Molds"),
            say=_("From the register that you keep, whatever it looks like; or one by one."),
            is_done=counts.molds > 0,
            there=ngettext("%(n)s mold", "%(n)s molds", counts.molds) % {"n": counts.molds}
            if counts.molds
            else "",
            ways=_ways(
                person,
                (Right.IMPORT, _("Bring in a register"), "import-molds"),
                (Right.EDIT_MOLDS, _("Add a mold"), "mold-add"),
            ),
            files=_there(MOLD_FILES),
        ),
        BeginStep(
            title=_("Care rules and when they were last done"),
            say=_("From the maintenance sheet that you keep; or take a rule set for each mold."),
            is_done=counts.molds > 0 and counts.molds_without_rules == 0,
            there=ngettext(
                "%(n)s mold has no rule yet",
                "%(n)s molds have no rule yet",
                counts.molds_without_rules,
            )
            % {"n": counts.molds_without_rules}
            if counts.molds_without_rules
            else "",
            ways=_ways(
                person,
                (Right.IMPORT, _("Bring in a maintenance sheet"), "import-rules"),
                (Right.LOOK, _("Rule sets"), "rule-sets"),
            ),
            files=_there(RULE_FILES),
        ),
        BeginStep(
            title=_("Counters and first readings"),
            say=_("What each counter shows today. From here on the board is right."),
            is_done=counts.readings > 0,
            there=ngettext("%(n)s counter", "%(n)s counters", counts.counters)
            % {"n": counts.counters}
            if counts.counters
            else "",
            ways=_ways(
                person,
                (Right.ENTER_READINGS, _("Enter readings"), "readings"),
                (Right.IMPORT, _("Bring in readings"), "import-readings"),
                (Right.EXCHANGE_COUNTERS, _("Add a counter"), "counter-add"),
            ),
            files=_there(READING_FILES),
        ),
    ]


def _spots_words(counts: PlantCounts) -> str:
    if not counts.presses and not counts.other_spots:
        return ""
    presses = ngettext("%(n)s press", "%(n)s presses", counts.presses) % {"n": counts.presses}
    others = counts.other_spots
    return f"{presses}, " + ngettext("%(n)s other place", "%(n)s other places", others) % {
        "n": others
    }


def _ways(person: Person, *ways: tuple[Right, str, str]) -> list[Way]:
    """Return the links that this person may follow to pages that are there."""
    found = []
    for right, label, name in ways:
        if not may(person, right):
            continue
        try:
            found.append(Way(label=label, href=reverse(name)))
        except NoReverseMatch:
            continue
    return found


def _there(examples: tuple[Example, ...]) -> list[Example]:
    return [each for each in examples if each.path.is_file()]
