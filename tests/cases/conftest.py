"""The plant in which the cases happen."""

from zoneinfo import ZoneInfo

import pytest

from moldcare.plant.queries import forget_calendars
from tests import factories
from tests.cases.story import Story


@pytest.fixture
def story(db: None) -> Story:
    """A plant in Berlin that works three shifts from Monday to Friday, and a lead."""
    factories.plant(zone="Europe/Berlin")
    factories.three_shifts()
    forget_calendars()
    return Story(zone=ZoneInfo("Europe/Berlin"), lead=factories.person(role="lead", pin="2468"))
