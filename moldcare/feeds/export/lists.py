"""All lists that can be exported, by subject and by their names in addresses and commands."""

from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext_lazy as _

from moldcare.feeds.export.import_lists import IMPORT_LISTS
from moldcare.feeds.export.part_lists import PART_LISTS
from moldcare.feeds.export.plant_lists import PLANT_LISTS
from moldcare.feeds.export.reading_lists import READING_LISTS
from moldcare.feeds.export.rule_lists import RULE_LISTS
from moldcare.feeds.export.setup_lists import SETUP_LISTS
from moldcare.feeds.export.shapes import ListShape
from moldcare.feeds.export.work_lists import WORK_LISTS


@dataclass(frozen=True, kw_only=True, slots=True)
class Subject:
    """Lists about one subject, under one heading.

    Parameters
    ----------
    key : str
        Names it in a page.
    """

    key: str
    title: Any
    lists: tuple[ListShape, ...]

    @property
    def is_long(self) -> bool:
        """Whether its lists grow with every shift."""
        return all(shape.is_long for shape in self.lists)


_BY_NAME: Final = {
    each.name: each
    for each in (
        *RULE_LISTS,
        *READING_LISTS,
        *WORK_LISTS,
        *PLANT_LISTS,
        *PART_LISTS,
        *SETUP_LISTS,
        *IMPORT_LISTS,
    )
}


def _subject(key: str, *names: str, title: Any) -> Subject:
    return Subject(key=key, title=title, lists=tuple(_BY_NAME[name] for name in names))


#: What grows with every shift stands first: a span is asked for it.
SUBJECTS: Final = (
    _subject(
        "happened",
        "orders",
        "completions",
        "deferrals",
        "interruptions",
        "entries",
        "readings",
        title=_("What happened"),
    ),
    _subject("molds", "molds", "rules", "rule-sets", title=_("Molds and their care")),
    _subject("hand", "due", "held", "runs", title=_("What needs a hand, and the plan")),
    _subject(
        "parts",
        "positions",
        "components",
        "cavities",
        "configurations",
        "circuits",
        title=_("What is in the molds"),
    ),
    _subject(
        "plant",
        "spots",
        "counters",
        "auxiliaries",
        "supplies",
        "owners",
        "shifts",
        "days",
        "cautions",
        "rates",
        title=_("The plant"),
    ),
    _subject("people", "people", "qualifications", "trainings", title=_("People")),
    _subject("files", "imports", "rows-to-mend", title=_("What was brought in")),
)
LISTS: Final[dict[str, ListShape]] = {
    each.name: each for subject in SUBJECTS for each in subject.lists
}
