"""Questions about rule sets: who took them, and where they changed since."""

from collections.abc import Iterable

from django.db.models import Count, F, IntegerField, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from moldcare.care.meant_for import Fit, MeantFor, MoldTraits, fit_of
from moldcare.care.models import RuleSet, SetRule, TakenSet
from moldcare.molds.models import Circuit, Mold, name_key


def sets_in_use() -> QuerySet[RuleSet]:
    """Return the sets that were not withdrawn, as `sets_with_use` gives them."""
    return sets_with_use().filter(withdrawn_at__isnull=True)


def sets_with_use() -> QuerySet[RuleSet]:
    """Return all sets with `size`, their rules, `molds` that took them and those `behind`."""
    rules = SetRule.objects.filter(rule_set=OuterRef("pk"), withdrawn_at__isnull=True)
    takings = TakenSet.objects.filter(rule_set=OuterRef("pk"), mold__withdrawn_at__isnull=True)
    behind = takings.filter(revision__lt=OuterRef("revision"))
    return RuleSet.objects.annotate(
        size=_count(rules), molds=_count(takings), behind=_count(behind)
    ).order_by("id")


def molds_behind(rule_set: RuleSet) -> int:
    """Return how many molds took a set before its last change."""
    takings = TakenSet.objects.filter(rule_set=rule_set, mold__withdrawn_at__isnull=True)
    return takings.filter(revision__lt=F("rule_set__revision")).count()


def _count(rows: QuerySet[SetRule] | QuerySet[TakenSet]) -> Coalesce:
    counted = rows.order_by().values("rule_set").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)


def rules_of(rule_set: RuleSet) -> list[SetRule]:
    """Return the rules of a set that were not taken out of it, with their families."""
    rows = SetRule.objects.filter(rule_set=rule_set, withdrawn_at__isnull=True)
    return list(rows.select_related("family", "rule_set").order_by("id"))


def narrower_sets() -> dict[int, list[RuleSet]]:
    """Return by the key of each set in use those that stand in its place where they fit.

    They are meant for some molds only, and ask for a part of its rules and for nothing else.
    """
    names: dict[RuleSet, set[str]] = {}
    rows = SetRule.objects.filter(withdrawn_at__isnull=True, rule_set__withdrawn_at__isnull=True)
    for row in rows.select_related("rule_set").order_by("rule_set_id", "id"):
        names.setdefault(row.rule_set, set()).add(name_key(row.name))
    return {
        wide.pk: [
            narrow
            for narrow, part in names.items()
            if part < whole and meant_for(narrow) != MeantFor()
        ]
        for wide, whole in names.items()
    }


def sets_behind(mold: Mold) -> list[RuleSet]:
    """Return the sets that changed since a mold took them."""
    takings = TakenSet.objects.filter(
        mold=mold,
        revision__lt=F("rule_set__revision"),
        rule_set__withdrawn_at__isnull=True,
    )
    return [row.rule_set for row in takings.select_related("rule_set").order_by("rule_set_id")]


def meant_for(rule_set: RuleSet) -> MeantFor:
    """Return for which molds a set is meant."""
    return MeantFor(
        mold_classes=tuple(rule_set.mold_classes),
        resin_groups=tuple(rule_set.resin_groups),
        fillers=tuple(rule_set.fillers),
        finishes=tuple(rule_set.finishes),
        equipment=rule_set.equipment,
    )


def fitting(rule_sets: Iterable[RuleSet], *, traits: MoldTraits) -> list[RuleSet]:
    """Return the sets that are meant for a mold, certainly."""
    return [row for row in rule_sets if fit_of(meant_for(row), traits=traits) is Fit.FITS]


def traits_of(molds: Iterable[Mold]) -> dict[int, MoldTraits]:
    """Return what sets may ask of molds: one query for their circuits."""
    rows = list(molds)
    circuits = Circuit.objects.filter(mold__in=[mold.pk for mold in rows]).order_by()
    cores = {
        mold_id: bool(bubblers or straight or spiral)
        for mold_id, bubblers, straight, spiral in circuits.values("mold")
        .annotate(
            bubbling=Sum("bubblers"), straight=Sum("straight_baffles"), spiral=Sum("spiral_baffles")
        )
        .values_list("mold", "bubbling", "straight", "spiral")
    }
    return {
        mold.pk: MoldTraits(
            mold_class=mold.mold_class,
            resin_group=mold.resin_group,
            filler=mold.filler,
            finish=mold.finish,
            has_bubblers=cores.get(mold.pk),
        )
        for mold in rows
    }
