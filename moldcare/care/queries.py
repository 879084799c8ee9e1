"""Questions about care rules, what was done, and where rules stand."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Window
from django.db.models.functions import Coalesce, RowNumber

from moldcare.care.models import CareRule, Completion, Deferral, Reach, Standing, TakenBack
from moldcare.logbook.models import Entry


def rules_in_force(
    *, molds: Iterable[int] = (), auxiliaries: Iterable[int] = (), has_families: bool = False
) -> list[CareRule]:
    """Return the rules of molds and auxiliaries that were not withdrawn.

    Their families come with them where asked: what is derived does not look at them.
    """
    of_molds, of_auxiliaries = Q(mold__in=set(molds)), Q(auxiliary__in=set(auxiliaries))
    asked = of_molds | of_auxiliaries if auxiliaries else of_molds
    rules = CareRule.objects.filter(asked, withdrawn_at__isnull=True)
    if has_families:
        rules = rules.select_related("family")
    return list(rules.order_by("id"))


def restarting_completions() -> QuerySet[Completion]:
    """Return the completions that restart their rule.

    One that was taken back does not; neither does "found not needed", except an inspection's.
    """
    # asked for apart, and not by a join: seen from the past, what was taken back later still counts
    taken_back = TakenBack.objects.filter(completion=OuterRef("pk"))
    return Completion.objects.filter(~Exists(taken_back)).filter(
        Q(is_not_needed=False) | Q(rule__family__is_inspection=True)
    )


class LastDone(NamedTuple):
    """The completion that a rule counts from; the fields are those of `Completion`."""

    pk: int
    rule_id: int
    happened_at: datetime | None
    declared_on: date | None
    declared_count: int | None
    grade: str


def _last_done(completions: QuerySet[Completion]) -> dict[int, LastDone]:
    """Read completions, at most one a rule; plain rows, for there is one a rule of every mold."""
    rows = completions.values_list(
        "id", "rule_id", "happened_at", "declared_on", "declared_count", "grade"
    )
    return {done.rule_id: done for done in map(LastDone._make, rows)}


def last_completions(rules: Sequence[CareRule]) -> dict[int, LastDone]:
    """Return the last completion of each rule: the latest instant of the work.

    One with an instant is later than an imported one that says only a date or a count.
    """
    ids = [rule.pk for rule in rules]
    newest_first = (
        restarting_completions()
        .filter(rule__in=ids)
        .annotate(
            place=Window(
                RowNumber(),
                partition_by=F("rule"),
                order_by=[F("happened_at").desc(nulls_last=True), F("id").desc()],
            )
        )
    )
    return _last_done(newest_first.filter(place=1))


def completions_that_stand(molds: Iterable[int]) -> dict[int, LastDone]:
    """Return the last completion of each rule of molds, as their standings name it.

    For molds of which nothing but readings is new since their standings were derived.
    """
    return _last_done(Completion.objects.filter(standings__mold__in=set(molds)))


def newest_deferrals(rules: Sequence[CareRule]) -> dict[int, Deferral]:
    """Return the newest deferral of each rule that has one."""
    found: dict[int, Deferral] = {}
    for row in Deferral.objects.filter(rule__in=[rule.pk for rule in rules]).order_by("id"):
        found[row.rule_id] = row
    return found


# the kind of a logbook entry that signs an order; see also moldcare.work.queries.ORDER_ENTRY
SERVICE_ENTRY = "order"


def services_since(molds: Iterable[int], *, at: datetime) -> list[tuple[int, datetime, bool]]:
    """Return (mold, instant, whether the mold was opened) of signed orders since an instant.

    A mold was opened when a task whose reach is above closed was done, and not only covered.
    """
    ids = set(molds)
    signed = (
        Entry.objects.filter(chain__mold__in=ids, kind=SERVICE_ENTRY, happened_at__gte=at)
        .order_by("happened_at", "number")
        .values_list("chain__mold", "happened_at")
    )
    services: dict[tuple[int, datetime], bool] = dict.fromkeys(signed, False)
    opened = (
        restarting_completions()
        .filter(
            rule__mold__in=ids,
            order_number__isnull=False,
            happened_at__gte=at,
            is_not_needed=False,
            covering__isnull=True,
        )
        .exclude(rule__reach=Reach.CLOSED)
        .values_list("rule__mold_id", "happened_at")
    )
    for mold_id, happened_at in opened.order_by("happened_at"):
        if mold_id is not None and happened_at is not None:
            services[(mold_id, happened_at)] = True
    return sorted(
        ((mold_id, happened, was_opened) for (mold_id, happened), was_opened in services.items()),
        key=lambda service: service[1],
    )


def standings_in_order() -> QuerySet[Standing]:
    """Return all standings with their rules and targets, sorted by when."""
    return Standing.objects.select_related(
        "rule__family", "rule__mold", "rule__position", "rule__circuit", "rule__auxiliary"
    ).order_by(Coalesce("due_at", "forecast_due_at").asc(nulls_last=True), "rule_id")


def completions_of(entry: Entry) -> list[Completion]:
    """Return what an entry says was done and nobody took back, without what was only covered."""
    taken_back = TakenBack.objects.filter(completion=OuterRef("pk"))
    rows = Completion.objects.filter(~Exists(taken_back), entry=entry, covering__isnull=True)
    return list(rows.select_related("rule__mold", "entry__chain").order_by("id"))
