"""All lists that can be exported, by their names in addresses and commands."""

from typing import Final

from moldcare.feeds.export.plant_lists import PLANT_LISTS
from moldcare.feeds.export.shapes import ListShape
from moldcare.feeds.export.work_lists import WORK_LISTS

LISTS: Final[dict[str, ListShape]] = {each.name: each for each in (*PLANT_LISTS, *WORK_LISTS)}
