"""A small plant for tests: molds that run much, with and without counters of their own."""

from moldcare.demo.catalog import MOLDS, PRESSES

NUMBERS = {
    "M-1006",  # steady, own counter
    "M-1008",
    "M-1009",  # counted by the press
    "M-1012",  # steady, its counter is about to begin again
    "M-1016",
    "M-1029",
    "M-1033",
    "M-1045",
    "M-1001",  # steady, medium presses
    "M-1003",
    "M-1021",
    "M-1043",
}
TWELVE = tuple(spec for spec in MOLDS if spec.number in NUMBERS)
SIX_PRESSES = tuple(spec for spec in PRESSES if spec.number in {"1", "2", "5", "6", "8", "11"})
