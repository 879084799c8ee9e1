"""What a file that comes in can hold, in the words of its pages."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from moldcare.feeds.models import ImportBatch

Text = str | Promise


@dataclass(frozen=True, kw_only=True, slots=True)
class KindWords:
    """The words and addresses of one kind of file.

    `upload` and `back` are names of routes; `command` the one that takes files of any size.
    """

    title: Text
    lead: Text
    help: Text
    upload: str
    back: str
    back_label: Text
    nav_here: str
    command: str


KINDS: Mapping[str, KindWords] = {
    ImportBatch.Kind.READINGS: KindWords(
        title=_("Bring in readings"),
        lead=_(
            "From a list that you keep in a spreadsheet, or that a press writes. You see what "
            "would become of each row before anything is written."
        ),
        help=_("CSV or XLSX, one row a reading or one column a mold. Nothing is written yet."),
        upload="import-readings",
        back="readings",
        back_label=_("Back to the round"),
        nav_here="readings",
        command="import_readings",
    ),
    ImportBatch.Kind.MOLDS: KindWords(
        title=_("Bring in molds"),
        lead=_(
            "From the register that you keep in a spreadsheet: numbers, names, cavities, masses, "
            "owners, counts, whatever it has. You see what would become of each row before "
            "anything is written; molds that are here already are not touched unless you say so."
        ),
        help=_("CSV or XLSX, one row a mold. Nothing is written yet."),
        upload="import-molds",
        back="setup",
        back_label=_("Back to the setup"),
        nav_here="setup",
        command="import_molds",
    ),
    ImportBatch.Kind.RULES: KindWords(
        title=_("Bring in care rules"),
        lead=_(
            "From your maintenance sheet: each task of a mold with its interval, and when it was "
            "last done. Counting goes on from there. You see what would become of each row before "
            "anything is written. The molds come first."
        ),
        help=_("CSV or XLSX, one row a task, or one column a task. Nothing is written yet."),
        upload="import-rules",
        back="setup",
        back_label=_("Back to the setup"),
        nav_here="setup",
        command="import_rules",
    ),
}


def words_of_kind(kind: str) -> KindWords:
    """Return the words of one kind of file."""
    return KINDS[ImportBatch.Kind(kind)]
