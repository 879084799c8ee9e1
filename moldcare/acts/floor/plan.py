"""Planning when a mold is to run: a plan is a record, edited until the mold is set."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words
from moldcare.molds.models import Mold, Run
from moldcare.plant.models import Spot
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class RunPlanned:
    """A run was planned or changed; `press_overlaps` are the keys of runs planned for the press."""

    run_id: int
    press_overlaps: list[int]


def plan_run(
    doing: Doing,
    *,
    mold: Mold,
    press: Spot,
    planned_from: datetime,
    planned_to: datetime | None = None,
    planned_cycles: int | None = None,
) -> RunPlanned:
    """Plan a mold's time in a press.

    Raises
    ------
    DoesNotFit
        If the mold is planned elsewhere in that time.
    """
    require(doing.person, Right.HAND_OUT_ORDERS)

    def do() -> dict[str, Any]:
        run = Run(
            mold=lock_mold(mold),
            press=press,
            planned_from=planned_from,
            planned_to=planned_to,
            planned_cycles=planned_cycles,
        )
        return _save(run)

    body = {
        "mold": mold,
        "press": press,
        "planned_from": planned_from,
        "planned_to": planned_to,
        "planned_cycles": planned_cycles,
    }
    return RunPlanned(**once(doing, "plan_run", body, do))


def change_run(
    doing: Doing,
    *,
    run: Run,
    press: Spot,
    planned_from: datetime,
    planned_to: datetime | None,
    planned_cycles: int | None,
) -> RunPlanned:
    """Change a planned run: all that is planned is given again.

    Raises
    ------
    DoesNotFit
        If it was called off, the mold is planned elsewhere then, or it has begun elsewhere.
    """
    require(doing.person, Right.HAND_OUT_ORDERS)

    def do() -> dict[str, Any]:
        mold = lock_mold(run.mold)
        held = Run.objects.select_for_update(no_key=True).get(pk=run.pk)
        if held.is_called_off:
            raise DoesNotFit(_("This run was called off. Plan a new one."))
        if held.press_id != press.pk and held.events.exists():
            raise DoesNotFit(_("This run has begun in %(press)s.") % {"press": held.press})
        held.mold, held.press = mold, press
        held.planned_from, held.planned_to = planned_from, planned_to
        held.planned_cycles = planned_cycles
        return _save(held)

    body = {
        "run": run,
        "press": press,
        "planned_from": planned_from,
        "planned_to": planned_to,
        "planned_cycles": planned_cycles,
    }
    return RunPlanned(**once(doing, "change_run", body, do))


def call_off_run(doing: Doing, *, run: Run) -> RunPlanned:
    """Call off a planned run that has not begun.

    Raises
    ------
    DoesNotFit
        If the mold was set for it.
    """
    require(doing.person, Right.HAND_OUT_ORDERS)

    def do() -> dict[str, Any]:
        lock_mold(run.mold)
        held = Run.objects.select_for_update(no_key=True).get(pk=run.pk)
        if held.events.exists():
            raise DoesNotFit(_("This run has begun; it ends when the mold is pulled."))
        held.is_called_off = True
        held.save(update_fields=["is_called_off"])
        refresh_care(molds=[held.mold_id])
        return {"run_id": held.pk, "press_overlaps": []}

    return RunPlanned(**once(doing, "call_off_run", {"run": run}, do))


def _save(run: Run) -> dict[str, Any]:
    if run.press.kind != Spot.Kind.PRESS:
        raise DoesNotFit(_("%(spot)s is no press. Choose a press.") % {"spot": run.press})
    checked(run, exclude=("mold", "press"))
    others = Run.objects.filter(is_called_off=False).exclude(pk=run.pk)
    others = others.filter(Q(planned_to__isnull=True) | Q(planned_to__gt=run.planned_from))
    if run.planned_to is not None:
        others = others.filter(planned_from__lt=run.planned_to)
    # a run that has ended takes no room any more, whatever its plan said
    others = others.exclude(events__act="pulled")
    same = others.filter(mold=run.mold).select_related("press").first()
    if same is not None:
        raise DoesNotFit(
            _("Mold %(mold)s is planned in %(press)s from %(at)s. Change that run, or give an end.")
            % {
                "mold": run.mold.number,
                "press": same.press,
                "at": local_words(same.planned_from, plant=the_plant()),
            }
        )
    run.save()
    refresh_care(molds=[run.mold_id])
    overlaps = others.filter(press=run.press).exclude(pk=run.pk).order_by("planned_from")
    return {"run_id": run.pk, "press_overlaps": list(overlaps.values_list("pk", flat=True))}
