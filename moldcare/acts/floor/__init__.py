"""Acts at the press, the bench and the rack: where molds are and what sits in them."""

from moldcare.acts.floor.cavities import CavityBlocked, block_cavity, free_cavity
from moldcare.acts.floor.changes import Change, note_change
from moldcare.acts.floor.components import (
    ComponentFitted,
    fit_component,
    take_out_component,
)
from moldcare.acts.floor.conditions import note_condition
from moldcare.acts.floor.open_matters import OpenMatter, OpenMatters, open_matters
from moldcare.acts.floor.places import (
    MoldPulled,
    MoldSet,
    add_past_run,
    move_mold,
    pull_mold,
    set_mold,
)
from moldcare.acts.floor.plan import RunPlanned, call_off_run, change_run, plan_run

__all__ = [
    "CavityBlocked",
    "Change",
    "ComponentFitted",
    "MoldPulled",
    "MoldSet",
    "OpenMatter",
    "OpenMatters",
    "RunPlanned",
    "add_past_run",
    "block_cavity",
    "call_off_run",
    "change_run",
    "fit_component",
    "free_cavity",
    "move_mold",
    "note_change",
    "note_condition",
    "open_matters",
    "plan_run",
    "pull_mold",
    "set_mold",
    "take_out_component",
]
