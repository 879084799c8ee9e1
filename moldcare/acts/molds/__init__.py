"""Acts about what molds are: identity, parts, and what belongs to them."""

from moldcare.acts.molds.belongings import (
    add_auxiliary,
    add_owner,
    add_supply,
    edit_auxiliary,
    edit_owner,
    edit_supply,
    withdraw_auxiliary,
    withdraw_owner,
    withdraw_supply,
)
from moldcare.acts.molds.cavities import CavityNamed, name_cavities
from moldcare.acts.molds.circuits import NewItem, items_of, set_circuit_items
from moldcare.acts.molds.copying import copy_mold
from moldcare.acts.molds.identity import (
    MoldAdded,
    NewCircuit,
    add_mold,
    change_cycle_time,
    edit_mold,
    withdraw_mold,
)
from moldcare.acts.molds.marking import attach_marking
from moldcare.acts.molds.parts import (
    add_circuit,
    add_component,
    add_configuration,
    add_position,
    edit_circuit,
    edit_component,
    edit_configuration,
    edit_position,
)
from moldcare.acts.molds.taking_off import take_off, what_rests_on

__all__ = [
    "CavityNamed",
    "MoldAdded",
    "NewCircuit",
    "NewItem",
    "add_auxiliary",
    "add_circuit",
    "add_component",
    "add_configuration",
    "add_mold",
    "add_owner",
    "add_position",
    "add_supply",
    "attach_marking",
    "change_cycle_time",
    "copy_mold",
    "edit_auxiliary",
    "edit_circuit",
    "edit_component",
    "edit_configuration",
    "edit_mold",
    "edit_owner",
    "edit_position",
    "edit_supply",
    "items_of",
    "name_cavities",
    "set_circuit_items",
    "take_off",
    "what_rests_on",
    "withdraw_auxiliary",
    "withdraw_mold",
    "withdraw_owner",
    "withdraw_supply",
]
