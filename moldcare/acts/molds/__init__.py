"""Acts about what molds are: identity, parts, and what belongs to them."""

from moldcare.acts.molds.belongings import (
    add_auxiliary,
    add_owner,
    add_supply,
    edit_auxiliary,
    edit_owner,
    edit_supply,
    withdraw_auxiliary,
    withdraw_supply,
)
from moldcare.acts.molds.identity import (
    MoldAdded,
    NewCircuit,
    add_mold,
    change_cycle_time,
    edit_mold,
    withdraw_mold,
)
from moldcare.acts.molds.parts import (
    add_circuit,
    add_component,
    add_configuration,
    add_position,
    edit_circuit,
    edit_component,
    edit_position,
)

__all__ = [
    "MoldAdded",
    "NewCircuit",
    "add_auxiliary",
    "add_circuit",
    "add_component",
    "add_configuration",
    "add_mold",
    "add_owner",
    "add_position",
    "add_supply",
    "change_cycle_time",
    "edit_auxiliary",
    "edit_circuit",
    "edit_component",
    "edit_mold",
    "edit_owner",
    "edit_position",
    "edit_supply",
    "withdraw_auxiliary",
    "withdraw_mold",
    "withdraw_supply",
]
