"""What became of a round: by field, what was written and what is to be put right."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.readings import ReadingAnswer
from moldcare.pages.readings.forms import RoundForm
from moldcare.pages.readings.round import RoundRow
from moldcare.pages.readings.words import cycles_words
from moldcare.pages.words import count_words


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What became of the fields that were filled.

    `wrong` are sentences beside fields, `offered` estimates that wait for a word, `said` what was
    written.
    """

    answers: list[ReadingAnswer]
    wrong: dict[str, list[str]]
    offered: dict[str, int]
    said: dict[str, str]
    typed: dict[str, str]

    @property
    def is_settled(self) -> bool:
        """Whether everything that was typed is written, held or not."""
        return not self.wrong and not self.offered

    def form(self, *, rows: Iterable[RoundRow]) -> RoundForm:
        """Return the form with what is not written yet, as it was typed."""
        return RoundForm(rows=rows, initial=self.typed)


def outcome_of(form: RoundForm, *, answers: Sequence[ReadingAnswer]) -> Outcome:
    """Put answers and errors beside their fields."""
    wrong = {name: [str(each) for each in errors] for name, errors in form.errors.items()}
    said: dict[str, str] = {}
    taken = []
    for each in answers:
        key = f"counter-{each.counter_id}"
        if each.verdict == "refused":
            wrong.setdefault(key, []).append(each.reason)
            continue
        taken.append(each)
        said[key] = _said(each)
    return Outcome(
        answers=taken,
        wrong=wrong,
        offered=form.offered,
        said=said,
        typed=form.typed(but=said),
    )


def _said(each: ReadingAnswer) -> str:
    value = count_words(each.value)
    if each.verdict == "held":
        return _("%(value)s is written down and held.") % {"value": value}
    if each.verdict == "duplicate":
        return _("%(value)s was written down already.") % {"value": value}
    if each.cycles is None:
        return _("%(value)s is written down.") % {"value": value}
    return _("%(value)s is written down: %(cycles)s.") % {
        "value": value,
        "cycles": cycles_words(each.cycles),
    }


def sum_words(outcome: Outcome) -> str:
    """Return what a round came to."""
    number = len(outcome.answers)
    said = [
        ngettext("%(n)d reading is written down.", "%(n)d readings are written down.", number)
        % {"n": number}
    ]
    held = sum(each.verdict == "held" for each in outcome.answers)
    if held:
        said.append(
            ngettext(
                "%(n)d of them is held: look at it.", "%(n)d of them are held: look at them.", held
            )
            % {"n": held}
        )
    open_rows = len({name for name in (*outcome.wrong, *outcome.offered) if name != "__all__"})
    if open_rows:
        said.append(
            ngettext("%(n)d row is to be put right.", "%(n)d rows are to be put right.", open_rows)
            % {"n": open_rows}
        )
    return " ".join(said)


def wrong_beside(outcome: Outcome | None, *, names: Iterable[str]) -> list[str]:
    """Return what is wrong with a round beside its rows: with its time, or as a whole."""
    return (
        [] if outcome is None else [each for name in names for each in outcome.wrong.get(name, [])]
    )


def refusals_of(outcome: Outcome, *, rows: Iterable[RoundRow]) -> list[str]:
    """Return what is to be put right, each with its mold or place."""
    named = {
        row.key: row.mold.number if row.mold is not None else str(row.spot or "") for row in rows
    }
    said = [
        f"{named[key]}: {each}" if key in named else each
        for key, sentences in outcome.wrong.items()
        for each in sentences
    ]
    said += [
        _("%(where)s: %(value)s was written as “about”; say that it shall stand as an estimate.")
        % {"where": named.get(key, ""), "value": count_words(value)}
        for key, value in outcome.offered.items()
    ]
    return [sum_words(outcome), *said] if outcome.answers else said
