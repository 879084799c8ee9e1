"""All lists that can be exported, by their names in addresses and commands."""

from typing import Final

from moldcare.feeds.export.plant_lists import PLANT_LISTS
from moldcare.feeds.export.shapes import ListShape
from moldcare.feeds.export.work_lists import WORK_LISTS

# what people look for first stands first
_FIRST = ("molds", "rules")

LISTS: Final[dict[str, ListShape]] = {
    each.name: each
    for each in sorted((*PLANT_LISTS, *WORK_LISTS), key=lambda each: each.name not in _FIRST)
}
