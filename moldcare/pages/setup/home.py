"""What the setup shows of what is there already."""

from dataclasses import dataclass

from django.db.models import Count

from moldcare.care.models import RuleSet
from moldcare.counters.models import Counter
from moldcare.counters.queries import counters_on_now, loose_counters
from moldcare.molds.models import Mold
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_use

LOOSE_SHOWN = 12


@dataclass(kw_only=True, slots=True)
class SetupHome:
    """Counts of what is there, and the counters that are not on a mold."""

    molds: int
    molds_without_rules: int
    counters: int
    loose: list[Counter]
    on_presses: list[tuple[Spot, Counter]]
    rule_sets: list[RuleSet]


def setup_home() -> SetupHome:
    """Read what the setup shows: seven queries."""
    molds = Mold.objects.filter(withdrawn_at__isnull=True)
    presses = {spot.pk: spot for spot in spots_in_use(kinds=[Spot.Kind.PRESS])}
    on = counters_on_now(presses=presses)["press"]
    rows = Counter.objects.in_bulk(list(on.values()))
    return SetupHome(
        molds=molds.count(),
        molds_without_rules=molds.exclude(care_rules__withdrawn_at__isnull=True).count(),
        counters=Counter.objects.count(),
        loose=list(loose_counters()[:LOOSE_SHOWN]),
        on_presses=[(presses[spot], rows[counter]) for spot, counter in on.items()],
        rule_sets=list(RuleSet.objects.annotate(size=Count("rules")).order_by("id")),
    )
