"""How much of each thing a plant has."""

from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from moldcare.care.models import CareRule, RuleSet
from moldcare.counters.models import Counter, Reading
from moldcare.counters.queries import loose_counters
from moldcare.molds.models import Auxiliary, Mold, Supply
from moldcare.molds.queries import owners_in_use
from moldcare.plant.models import Person, Plant, Spot
from moldcare.plant.queries import cautions_in_force, patterns_in_force


@dataclass(frozen=True, kw_only=True, slots=True)
class PlantCounts:
    """How much of each thing the plant has."""

    plant_name: str
    patterns: int
    presses: int
    other_spots: int
    people: int
    owners: int
    molds: int
    molds_without_rules: int
    rule_sets: int
    counters: int
    loose_counters: int
    readings: int
    supplies: int
    auxiliaries: int
    auxiliaries_without_rules: int
    cautions: int

    @property
    def is_named(self) -> bool:
        """Whether the plant's record was written."""
        return bool(self.plant_name)

    @property
    def is_begun(self) -> bool:
        """Whether the board can say anything: there are molds, and a clock to say it by."""
        return self.is_named and self.patterns > 0 and self.molds > 0


def plant_counts(plant: Plant) -> PlantCounts:
    """Count what there is, in a number of queries that the plant's size does not change."""
    spots = Spot.objects.filter(is_in_use=True).aggregate(
        presses=Count("pk", filter=Q(kind=Spot.Kind.PRESS)),
        others=Count("pk", filter=~Q(kind=Spot.Kind.PRESS)),
    )
    in_force = CareRule.objects.filter(withdrawn_at__isnull=True)
    molds = _with_rules_missing(Mold.objects.all(), rules=in_force.filter(mold=OuterRef("pk")))
    auxiliaries = _with_rules_missing(
        Auxiliary.objects.all(), rules=in_force.filter(auxiliary=OuterRef("pk"))
    )
    return PlantCounts(
        plant_name=plant.name,
        patterns=patterns_in_force().count(),
        presses=spots["presses"],
        other_spots=spots["others"],
        people=Person.objects.filter(is_active=True, is_wall=False)
        .exclude(role=Person.Role.FEED)
        .count(),
        owners=owners_in_use().count(),
        molds=molds["all"],
        molds_without_rules=molds["without_rules"],
        rule_sets=RuleSet.objects.filter(withdrawn_at__isnull=True).count(),
        counters=Counter.objects.count(),
        loose_counters=loose_counters().count(),
        # whether there is one at all: a plant has millions
        readings=int(Reading.objects.exists()),
        supplies=Supply.objects.filter(withdrawn_at__isnull=True).count(),
        auxiliaries=auxiliaries["all"],
        auxiliaries_without_rules=auxiliaries["without_rules"],
        cautions=cautions_in_force().count(),
    )


def _with_rules_missing(
    rows: QuerySet[Mold] | QuerySet[Auxiliary], *, rules: QuerySet[CareRule]
) -> dict[str, int]:
    """Count what is in our care, and what of it no rule looks after."""
    return rows.filter(withdrawn_at__isnull=True).aggregate(
        all=Count("pk"), without_rules=Count("pk", filter=~Exists(rules))
    )
