"""Acts about counters: what sits where, and what counts."""

from moldcare.acts.counters.counts import prefer_count, report_dry_cycles
from moldcare.acts.counters.fittings import (
    CounterExchanged,
    add_counter,
    exchange_counter,
    fit_counter,
    remove_counter,
)
from moldcare.acts.counters.rollover import say_rollover

__all__ = [
    "CounterExchanged",
    "add_counter",
    "exchange_counter",
    "fit_counter",
    "prefer_count",
    "remove_counter",
    "report_dry_cycles",
    "say_rollover",
]
