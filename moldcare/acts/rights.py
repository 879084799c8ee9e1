"""Who may do what."""

from enum import StrEnum

from django.utils.translation import gettext as _

from moldcare.acts.errors import NotAllowed
from moldcare.plant.models import Person

READER, TECHNICIAN, LEAD, MANAGER, FEED = (
    Person.Role.READER,
    Person.Role.TECHNICIAN,
    Person.Role.LEAD,
    Person.Role.MANAGER,
    Person.Role.FEED,
)


class Right(StrEnum):
    """One thing that a role may or may not do."""

    LOOK = "look"
    ENTER_READINGS = "enter_readings"
    LOG_WORK = "log_work"
    REPORT_INTERRUPTION = "report_interruption"
    MOVE_MOLDS = "move_molds"
    EXCHANGE_COUNTERS = "exchange_counters"
    IMPORT = "import"
    RESET_PIN = "reset_pin"
    EDIT_SHIFTS = "edit_shifts"
    DECIDE_READINGS = "decide_readings"
    HAND_OUT_ORDERS = "hand_out_orders"
    EDIT_MOLDS = "edit_molds"
    EDIT_RULES = "edit_rules"
    DEFER = "defer"
    CORRECT_OWN_ENTRY = "correct_own_entry"
    CORRECT_ANY_ENTRY = "correct_any_entry"
    SEAL_MONTH = "seal_month"
    EDIT_PEOPLE = "edit_people"
    EDIT_RATES = "edit_rates"
    EXPORT_PLANT = "export_plant"


_ON_THE_FLOOR = {
    Right.LOOK,
    Right.ENTER_READINGS,
    Right.LOG_WORK,
    Right.REPORT_INTERRUPTION,
    Right.MOVE_MOLDS,
    Right.CORRECT_OWN_ENTRY,
}
_LEADING = _ON_THE_FLOOR | {
    Right.EXCHANGE_COUNTERS,
    Right.IMPORT,
    Right.RESET_PIN,
    Right.EDIT_SHIFTS,
    Right.DECIDE_READINGS,
    Right.HAND_OUT_ORDERS,
    Right.EDIT_MOLDS,
    Right.EDIT_RULES,
    Right.DEFER,
    Right.CORRECT_ANY_ENTRY,
}
_MANAGING = _LEADING | {
    Right.SEAL_MONTH,
    Right.EDIT_PEOPLE,
    Right.EDIT_RATES,
    Right.EXPORT_PLANT,
}

RIGHTS: dict[str, frozenset[Right]] = {
    READER: frozenset({Right.LOOK}),
    TECHNICIAN: frozenset(_ON_THE_FLOOR),
    LEAD: frozenset(_LEADING),
    MANAGER: frozenset(_MANAGING),
    FEED: frozenset({Right.ENTER_READINGS}),
}


def may(person: Person, right: Right) -> bool:
    """Return whether the person's role has the right."""
    return person.is_active and right in RIGHTS.get(person.role, frozenset())


def require(person: Person, right: Right) -> None:
    """Raise NotAllowed unless the person's role has the right."""
    if not may(person, right):
        raise NotAllowed(
            _("Your role (%(role)s) does not do this. Nothing was changed; ask a lead.")
            % {"role": person.get_role_display()}
        )
