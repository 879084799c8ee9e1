"""The plant's own record: its name, zone, units and what else it goes by."""

import re
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import Incomplete
from moldcare.acts.plant.entries import refresh_everything
from moldcare.acts.records import add_record, change_record, change_words, fill, record_facts
from moldcare.acts.rights import Right, require
from moldcare.plant.models import Plant

PLANT_FIELDS = (
    "name",
    "zone",
    "currency",
    "language",
    "units",
    "paper",
    "week_starts_on",
    "clock_error_s",
    "reading_age_shifts",
    "idle_minutes",
    "lockout_procedure",
)
# what due dates and verdicts are worked out with
_DERIVED_FROM = frozenset({"zone", "clock_error_s", "reading_age_shifts"})
# the entry table takes an hour at most; see WIDEST_CLOCK_ERROR
_WIDEST_CLOCK_ERROR_S = 3600
_CURRENCY = re.compile(r"[A-Z]{3}")


def set_plant(doing: Doing, *, changes: Mapping[str, Any], is_demo: bool = False) -> Written:
    """Write the plant's record, or change it. The first writing needs a name.

    Raises
    ------
    Incomplete
        If the zone is not known, or another value cannot stand.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        held = Plant.objects.select_for_update(no_key=True).filter(pk=1).first()
        _check_plant(changes)
        if held is None:
            held = Plant(pk=1, is_demo=is_demo)
            fill(held, values=changes, allowed=PLANT_FIELDS)
            add_record(held)
            after = record_facts(held, fields=PLANT_FIELDS)
            sentence = f"Plant {held.name} set up, time zone {held.zone}."
            facts: dict[str, Any] = after
        else:
            before, after = change_record(held, changes=changes, allowed=PLANT_FIELDS)
            sentence = f"Plant changed: {change_words(before, after=after, of=held)}."
            facts = {"before": before, "after": after}
        entry = plant_entry(doing, kind="plant_set", sentence=sentence, facts=facts)
        if _DERIVED_FROM & set(after):
            refresh_everything()
        return answer_of(held, entry=entry)

    body = {"changes": changes, "is_demo": is_demo}
    return Written.read(once(doing, "set_plant", body, do))


def _check_plant(changes: Mapping[str, Any]) -> None:
    if "zone" in changes:
        try:
            ZoneInfo(str(changes["zone"]))
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise Incomplete(
                _("“%(zone)s” is no time zone. Give one such as Europe/Berlin.")
                % {"zone": changes["zone"]}
            ) from error
    if int(changes.get("clock_error_s", 0)) > _WIDEST_CLOCK_ERROR_S:
        raise Incomplete(_("A clock may be off by an hour at most: 3600 seconds."))
    currency = changes.get("currency")
    if currency is not None and not _CURRENCY.fullmatch(str(currency)):
        raise Incomplete(_("A currency is given by its three letters, such as EUR or USD."))
