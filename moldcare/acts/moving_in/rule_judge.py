"""What becomes of the rows of a maintenance sheet: new rules, known ones, other intervals."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.moving_in.mold_judge import difference_words, refused
from moldcare.acts.moving_in.rule_changes import Known, changes_of, differences_of
from moldcare.acts.moving_in.values import NEW, TAKE, Became, FileRule, Judged
from moldcare.acts.words import tidy
from moldcare.care.convert import rule_terms
from moldcare.care.families import FAMILIES
from moldcare.care.models import CareRule, Family, SetRule, Standing
from moldcare.core.due import check_terms
from moldcare.core.errors import TermsContradict
from moldcare.counters.models import Life
from moldcare.molds.models import Mold, name_key
from moldcare.plant.models import Plant

LONGEST_NAME = 120
LARGEST_COUNT = 2_147_483_647
LARGEST_PERIOD = 32_767


# terms that an interval may contradict
_MORE_LIMITS = (
    *("lead_count", "margin_count", "hard_count"),
    *("lead_days", "margin_days", "hard_days", "early_window_days", "hard_hours"),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Start:
    """What rules of a family begin with: the steps and terms of a rule of a set."""

    name: str
    terms: Mapping[str, Any]
    steps: tuple[Mapping[str, Any], ...]


#: What a new rule takes over from the starting rule of its family; its interval is the file's.
STARTING_TERMS = (
    "reach",
    "where_done",
    "minutes",
    "people",
    "qualification",
    "supplies",
    "is_safety_relevant",
    "asks_checked",
    "asks_accepted",
)


class RuleJudge:
    """Judges the rows of one sheet, in their order; everything that it looks at is read once."""

    def __init__(self, *, now: datetime, plant: Plant) -> None:
        self.today = now.astimezone(ZoneInfo(plant.zone)).date()
        self.molds = dict(
            Mold.objects.filter(withdrawn_at__isnull=True).values_list("pk", "number")
        )
        self.families = set(Family.objects.values_list("key", flat=True))
        self.families |= {each.key for each in FAMILIES}
        self.counts = {
            mold: (cycles, shots)
            for mold, cycles, shots in Life.objects.values_list("mold_id", "cycles", "shots")
        }
        self.rules: dict[int, list[Known]] = {}
        for known in _known():
            self.rules.setdefault(known.mold, []).append(known)
        self.met: dict[tuple[int, str], int] = {}
        self._sound: dict[tuple[Any, ...], str] = {}

    def judge(self, row: FileRule) -> Judged:
        """Return what becomes of one row."""
        reason = self._reason_against(row)
        if reason:
            return refused(reason)
        task = tidy(row.task)
        earlier = self.met.setdefault((row.mold, name_key(task)), row.row)
        if earlier != row.row:
            return refused(
                _("“%(task)s” of mold %(mold)s stands in row %(row)s already. Keep one of the two.")
                % {"task": task, "mold": self.molds[row.mold], "row": earlier}
            )
        same = self._same_name(row)
        if len(same) > 1:
            return refused(
                _(
                    "Mold %(mold)s has several rules called “%(task)s”. Write it down at the one "
                    "that is meant."
                )
                % {"mold": self.molds[row.mold], "task": task}
            )
        if same:
            return self._there(row, known=same[0])
        like = self._same_family(row)
        if like is not None and row.choice != NEW:
            return self._alike(row, known=like)
        return self._new(row, may_be_new=like is not None)

    def _reason_against(self, row: FileRule) -> str:
        task = tidy(row.task)
        if row.mold not in self.molds:
            return _("The mold was withdrawn meanwhile.")
        if not task or len(task) > LONGEST_NAME:
            return _("A task has a name of at most %(n)d signs.") % {"n": LONGEST_NAME}
        if row.last_done is not None and row.last_done > self.today:
            return _("Last done on %(date)s is in the future. Check the year.") % {
                "date": row.last_done
            }
        if row.count_interval is not None and not 1 <= row.count_interval <= LARGEST_COUNT:
            return _("An interval of %(n)s is not possible.") % {"n": f"{row.count_interval:,}"}
        if row.period_n is not None and not 1 <= row.period_n <= LARGEST_PERIOD:
            return _("A period of %(n)s is not possible.") % {"n": f"{row.period_n:,}"}
        now = self.count_of(row)
        if row.last_count is not None and now is not None and row.last_count > now:
            return _(
                "Last done at %(done)s, but the mold stands at %(now)s. Correct one of the two: "
                "the count before our records is changed on the mold's page."
            ) % {"done": f"{row.last_count:,}", "now": f"{now:,}"}
        return self._unsound(row)

    def count_of(self, row: FileRule) -> int | None:
        """Return where the mold stands, in what the row counts."""
        found = self.counts.get(row.mold)
        if found is None:
            return None
        return found[1] if row.count_basis == CareRule.Basis.SHOTS else found[0]

    def _unsound(self, row: FileRule) -> str:
        """Return why such an interval cannot stand; each is looked at once."""
        if not _has_interval(row):
            return ""
        terms = (
            *(row.count_interval, row.count_basis, row.period_n, row.period_unit),
            *(row.hours_limit, row.event),
        )
        if terms not in self._sound:
            rule = CareRule(
                count_base=row.count_interval,
                count_basis=row.count_basis,
                period_n=row.period_n,
                period_unit=row.period_unit if row.period_n else "",
                hours_limit=row.hours_limit,
                event=row.event,
            )
            try:
                check_terms(rule_terms(rule))
                self._sound[terms] = ""
            except (TermsContradict, ValueError) as error:
                self._sound[terms] = str(error)
        return self._sound[terms]

    def _same_name(self, row: FileRule) -> list[Known]:
        key = name_key(tidy(row.task))
        same = [rule for rule in self.rules.get(row.mold, ()) if name_key(rule.name) == key]
        of_mold = [rule for rule in same if rule.target == CareRule.Target.MOLD]
        return of_mold or same

    def _same_family(self, row: FileRule) -> Known | None:
        """Return the one rule of the same family that a mold has, by another name."""
        alike = [rule for rule in self.rules.get(row.mold, ()) if rule.family == row.family]
        return alike[0] if row.family and len(alike) == 1 else None

    def _new(self, row: FileRule, *, may_be_new: bool) -> Judged:
        if not _has_interval(row):
            return refused(
                _("It has no interval. Give one by count, by calendar, in hours or by an event.")
            )
        if row.family not in self.families:
            return Judged(
                became=Became.ASKED,
                reason=_("Nothing tells what kind of care “%(task)s” is.") % {"task": row.task},
            )
        return Judged(
            became=Became.NEW,
            reason=self._without_count(row, counts=row.count_interval is not None),
            takes_last_done=_gives_last_done(row, counts=row.count_interval is not None),
            done_count=row.last_count if row.count_interval is not None else None,
            may_be_new=may_be_new,
        )

    def _there(self, row: FileRule, *, known: Known) -> Judged:
        changes = changes_of(row, known=known)
        counts = row.count_interval is not None or known.count_base is not None
        done = self._done_is_news(row, known=known, counts=counts)
        said = self._without_count(row, counts=counts)
        if not changes:
            if not done:
                return Judged(became=Became.SAME, rule=known.pk)
            said = f"{_('Last done is written down.')} {said}".strip()
            return Judged(
                became=Became.CHANGED,
                reason=said,
                rule=known.pk,
                takes_last_done=True,
                done_count=row.last_count if counts else None,
            )
        found = differences_of(known, changes=changes)
        unsound = self._unsound_together(known, changes=changes)
        if unsound:
            return refused(unsound)
        taken = row.choice == TAKE
        said = difference_words(found)
        if done:
            said += " " + _("Last done is written down either way.")
        return Judged(
            became=Became.CHANGED if taken else Became.DIFFERS,
            reason=said,
            differences=found,
            changes=changes,
            rule=known.pk,
            takes_last_done=done,
            done_count=row.last_count if counts else None,
        )

    def _alike(self, row: FileRule, *, known: Known) -> Judged:
        """Return what becomes of a task that may be a rule which the mold has by another name."""
        changes = changes_of(row, known=known)
        counts = row.count_interval is not None or known.count_base is not None
        found = differences_of(known, changes=changes)
        said = _("The mold has “%(rule)s”, which is care of the same kind.") % {"rule": known.name}
        if found:
            said += f" {difference_words(found)}"
        taken = row.choice == TAKE
        return Judged(
            became=Became.CHANGED if taken else Became.DIFFERS,
            reason=said,
            differences=found,
            changes=changes if taken else {},
            rule=known.pk,
            takes_last_done=taken and self._done_is_news(row, known=known, counts=counts),
            done_count=row.last_count if counts else None,
            may_be_new=True,
        )

    def _unsound_together(self, known: Known, *, changes: Mapping[str, Any]) -> str:
        """Return why another interval contradicts the lead, margin or hard limit of a rule."""
        if not known.has_more_limits:
            return ""
        rule = CareRule.objects.get(pk=known.pk)
        for name, value in changes.items():
            setattr(rule, name, value)
        try:
            check_terms(rule_terms(rule))
        except (TermsContradict, ValueError) as error:
            return str(error)
        return ""

    def _done_is_news(self, row: FileRule, *, known: Known, counts: bool) -> bool:
        """Tell whether a sheet knows a last time that is later than what is known here."""
        if known.is_done_here or not _gives_last_done(row, counts=counts):
            return False
        if known.done_on is None and known.done_count is None:
            return True
        if row.last_done is not None and known.done_on is not None:
            return row.last_done > known.done_on
        if counts and row.last_count is not None and known.done_count is not None:
            return row.last_count > known.done_count
        return False

    def _without_count(self, row: FileRule, *, counts: bool) -> str:
        if row.last_count is None or counts:
            return ""
        return _("It does not count, so the count at which it was last done is left out.")


def _has_interval(row: FileRule) -> bool:
    return bool(row.count_interval or row.period_n or row.hours_limit or row.event)


def _gives_last_done(row: FileRule, *, counts: bool) -> bool:
    return row.last_done is not None or (counts and row.last_count is not None)


def _known() -> list[Known]:
    """Return the rules of molds that are in force, with when they were last done."""
    done = {
        rule: (at is not None, on, count)
        for rule, at, on, count in Standing.objects.filter(
            mold__isnull=False, last_completion__isnull=False
        ).values_list(
            "rule_id",
            "last_done_at",
            "last_completion__declared_on",
            "last_completion__declared_count",
        )
    }
    rows = CareRule.objects.filter(mold__isnull=False, withdrawn_at__isnull=True)
    names = (
        *("pk", "mold_id", "name", "family__key", "target"),
        *("count_base", "count_basis", "period_n", "period_unit", "hours_limit", "event"),
    )
    listed: Iterable[tuple[Any, ...]] = rows.order_by("pk").values_list(*names, *_MORE_LIMITS)
    known = []
    for values in listed:
        more = any(value is not None for value in values[len(names) :])
        last = done.get(values[0], (False, None, None))
        known.append(Known._make((*values[: len(names)], more, *last)))
    return known


def starts() -> dict[str, list[Start]]:
    """Return the rules of sets that have steps, by family, the first sets first."""
    found: dict[str, list[Start]] = {}
    for row in SetRule.objects.select_related("family").order_by("rule_set_id", "id"):
        found.setdefault(row.family.key, []).append(
            Start(
                name=row.name,
                terms={name: getattr(row, name) for name in STARTING_TERMS},
                steps=tuple(row.steps),
            )
        )
    return found


def start_for(row: FileRule, *, known: Mapping[str, list[Start]]) -> Start | None:
    """Return what a new rule begins with: the set's rule of this name, else of this family."""
    alike = known.get(row.family, [])
    key = name_key(tidy(row.task))
    named = [start for start in alike if name_key(start.name) == key]
    return next(iter(named or alike), None)
