"""Writing work orders, handing them out, and what else happens to them until they are signed."""

from moldcare.acts.orders.course import (
    begin,
    begin_now,
    go_on,
    hand_out,
    hold_up,
    open_order,
    strike_out,
)
from moldcare.acts.orders.writing import (
    WrittenOrder,
    add_tasks,
    plan_order,
    remove_task,
    tick_covered,
    write_order,
)

__all__ = [
    "WrittenOrder",
    "add_tasks",
    "begin",
    "begin_now",
    "go_on",
    "hand_out",
    "hold_up",
    "open_order",
    "plan_order",
    "remove_task",
    "strike_out",
    "tick_covered",
    "write_order",
]
