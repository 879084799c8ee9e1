"""How far a counter counts before it begins again."""

from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.counters.entries import counter_entry
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.records import change_record
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given
from moldcare.counters.models import Counter
from moldcare.counters.queries import fittings_now
from moldcare.logbook.append import append_entry, plant_chain


def say_rollover(doing: Doing, *, counter: Counter, rollover: int, reason: str) -> Written:
    """Say after which number a counter begins again; its readings are judged anew.

    Raises
    ------
    DoesNotFit
        If it counts that far already, or showed more.
    Incomplete
        If there is no reason.
    """
    require(doing.person, Right.EXCHANGE_COUNTERS)

    def do() -> dict[str, Any]:
        words = reason_given(reason)
        row = Counter.objects.select_for_update(no_key=True).get(pk=counter.pk)
        shown = row.readings.order_by("-value").values_list("value", flat=True).first()
        if shown is not None and shown >= rollover:
            raise DoesNotFit(
                _("Counter %(counter)s showed %(value)s once: it does not begin again before.")
                % {"counter": row.label, "value": shown}
            )
        before, after = change_record(row, changes={"rollover": rollover}, allowed=("rollover",))
        facts = {"counter": row.label, "before": before, "after": after}
        sentence = f"Counter {row.label} begins again after {rollover}."
        fitting = fittings_now().filter(counter=row).first()
        on = None if fitting is None else fitting.mold or fitting.press
        if on is None:
            entry = append_entry(
                plant_chain(),
                kind="counter_rollover",
                happened_at=doing.now,
                written_at=doing.now,
                author=doing.person,
                sentence=f"{sentence} {words}",
                facts={**facts, "reason": words},
            )
        else:
            entry = counter_entry(
                doing,
                on=on,
                kind="counter_rollover",
                at=doing.now,
                sentence=sentence,
                facts=facts,
                reason=words,
            )
        refresh_counts(counters=[row.pk])
        return answer_of(row, entry=entry)

    body = {"counter": counter, "rollover": rollover, "reason": reason}
    return Written.read(once(doing, "say_rollover", body, do))
