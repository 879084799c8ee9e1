"""What was built on what an import brought: such a thing stays when the import is taken back."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Max
from django.utils.translation import gettext as _

from moldcare.acts.moving_in import MOLD_ADDED, RULE_ADDED, RULE_CHANGED, Brought
from moldcare.bulk import parts
from moldcare.care.models import CareRule, Completion, Deferral, RuleVersion, TakenBack
from moldcare.counters.models import CounterFitting
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold, Run, RunEvent
from moldcare.work.models import Order, OrderTask

KEYS_AT_ONCE = 5_000


class LaterFacts:
    """Knows what came after an import; everything that it looks at is read once."""

    def __init__(self, *, brought: Sequence[Brought], undone_entries: Iterable[int] = ()) -> None:
        added = {each.mold for each in brought if each.act == MOLD_ADDED and each.mold is not None}
        rules = {each.rule for each in brought if each.rule is not None}
        entries = {each.entry for each in brought}
        done = {each.completion for each in brought if each.completion is not None}
        self._touched = _molds_with_entries(added, without=entries | set(undone_entries))
        self._used = _molds_in_use(added)
        self._versions = newest(RuleVersion, "rule", rules)
        self._completions = _completions(rules)
        self._deferred = _those(Deferral, "rule", rules)
        self._asked = set(
            OrderTask.objects.filter(
                rule__in=rules, order__signed_at__isnull=True, order__struck_out_at__isnull=True
            ).values_list("rule_id", flat=True)
        )
        self._taken_back = _those(TakenBack, "completion", done)

    def against(self, each: Brought, *, mold: Mold | None, rules: Mapping[int, CareRule]) -> str:
        """Return why a mold, a rule or a last time has to stay; empty where it need not."""
        if mold is None or mold.withdrawn_at is not None:
            return _("The mold was withdrawn since.")
        if each.act == MOLD_ADDED:
            if mold.pk in self._used:
                return self._used[mold.pk]
            return _("Its logbook goes on.") if mold.pk in self._touched else ""
        return self._against_rule(each, rule=rules.get(each.rule or 0))

    def _against_rule(self, each: Brought, *, rule: CareRule | None) -> str:
        if rule is None or rule.withdrawn_at is not None:
            return _("The rule was withdrawn since.")
        if each.completion in self._taken_back:
            return _("When it was last done was taken back since.")
        later = self._completions.get(rule.pk, set()) - {each.completion}
        newer = {pk for pk in later if each.completion is None or pk > each.completion}
        if each.act in {RULE_ADDED, RULE_CHANGED}:
            _pk, entry = self._versions.get(rule.pk, (0, 0))
            if entry != each.entry:
                return _("The rule was changed since.")
            if rule.pk in self._deferred and each.act == RULE_ADDED:
                return _("It was let run on since.")
            if rule.pk in self._asked:
                return _("An order that is not signed asks for it.")
        if each.act != RULE_CHANGED and newer:
            return _("It was done since.")
        return ""


def _molds_with_entries(molds: set[int], *, without: set[int]) -> set[int]:
    """Return the molds whose chain holds an entry beside those."""
    found = set()
    for some in parts(molds, size=KEYS_AT_ONCE):
        rows = Entry.objects.filter(chain__mold__in=some)
        found |= {
            mold
            for pk, mold in rows.order_by().values_list("pk", "chain__mold")
            if pk not in without
        }
    return found


def _molds_in_use(molds: set[int]) -> dict[int, str]:
    """Return the molds that something refers to which no entry need tell of, and what."""
    found: dict[int, str] = {}
    for some in parts(molds, size=KEYS_AT_ONCE):
        for rows, why in (
            (CounterFitting.objects.filter(mold__in=some), _("It has a counter.")),
            (RunEvent.objects.filter(mold__in=some), _("It was set in a press.")),
            (
                Run.objects.filter(mold__in=some, is_called_off=False),
                _("A run is planned for it."),
            ),
            (
                Order.objects.filter(mold__in=some, struck_out_at__isnull=True),
                _("There is an order for it."),
            ),
            (
                CareRule.objects.filter(mold__in=some, withdrawn_at__isnull=True),
                _("It has care rules. Take the import of those back first."),
            ),
        ):
            for mold in rows.order_by().values_list("mold_id", flat=True).distinct():
                found.setdefault(mold, why)
    return found


def newest(model: Any, name: str, keys: Iterable[int]) -> dict[int, tuple[int, int]]:
    """Return key and entry of the newest row that names each."""
    found: dict[int, tuple[int, int]] = {}
    for some in parts(set(keys), size=KEYS_AT_ONCE):
        newest = (
            model.objects.filter(**{f"{name}__in": some})
            .order_by()
            .values(name)
            .annotate(newest=Max("pk"))
            .values_list("newest", flat=True)
        )
        rows = model.objects.filter(pk__in=list(newest))
        for pk, key, entry in rows.order_by().values_list("pk", f"{name}_id", "entry_id"):
            found[key] = pk, entry
    return found


def _completions(rules: set[int]) -> dict[int, set[int]]:
    found: dict[int, set[int]] = {}
    for some in parts(rules, size=KEYS_AT_ONCE):
        rows = Completion.objects.filter(rule__in=some, taken_back__isnull=True)
        for rule, pk in rows.order_by().values_list("rule_id", "pk"):
            found.setdefault(rule, set()).add(pk)
    return found


def _those(model: Any, name: str, keys: Iterable[int]) -> set[int]:
    found: set[int] = set()
    for some in parts(set(keys), size=KEYS_AT_ONCE):
        rows = model.objects.filter(**{f"{name}__in": some}).order_by()
        found |= set(rows.values_list(f"{name}_id", flat=True))
    return found
