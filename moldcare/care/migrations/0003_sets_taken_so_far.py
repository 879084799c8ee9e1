"""Which molds took which sets, and which of their rules resin and filler act on."""

from typing import Any

from django.db import migrations
from django.db.models import Min

BY_RESIN = ("vents", "finish", "rust_protection")
BY_FILLER = ("hot_runner", "lubrication", "wear_parts")

MEANT: dict[str, dict[str, Any]] = {
    "slides and lifters": {"equipment": "slides"},
    "A-grade finish": {"finishes": ["A-1", "A-2", "A-3"]},
    "bubblers and baffles": {"equipment": "bubblers"},
    "hot runner": {"equipment": "hot_runner"},
}


def fill(apps: Any, _editor: Any) -> None:
    """Fill what rules of sets and takings of sets say."""
    set_rules = apps.get_model("care", "SetRule").objects
    set_rules.filter(family__key__in=BY_RESIN, count_basis="shots").update(by_resin=True)
    set_rules.filter(family__key__in=BY_FILLER).update(by_filler=True)
    for name, meant in MEANT.items():
        apps.get_model("care", "RuleSet").objects.filter(name=name).update(**meant)
    keys_of: dict[int, list[int]] = {}
    for key, of in set_rules.order_by("id").values_list("pk", "rule_set_id"):
        keys_of.setdefault(of, []).append(key)
    copies = apps.get_model("care", "CareRule").objects.filter(
        from_set_rule__isnull=False, mold__isnull=False
    )
    has: dict[tuple[int, int], set[int]] = {}
    for mold, of, key in copies.values_list(
        "mold_id", "from_set_rule__rule_set_id", "from_set_rule_id"
    ):
        has.setdefault((mold, of), set()).add(key)
    first = {
        (row["mold_id"], row["from_set_rule__rule_set_id"]): row["at"]
        for row in copies.values("mold_id", "from_set_rule__rule_set_id").annotate(
            at=Min("entered_at")
        )
    }
    taken = apps.get_model("care", "TakenSet")
    taken.objects.bulk_create(
        taken(
            mold_id=mold,
            rule_set_id=of,
            revision=1,
            without=[key for key in keys_of[of] if key not in keys],
            taken_at=first[mold, of],
        )
        for (mold, of), keys in sorted(has.items())
    )


class Migration(migrations.Migration):
    dependencies = [("care", "0002_sets_for_molds")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
