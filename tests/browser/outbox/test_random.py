"""Random faults in random order: nothing is lost, nothing comes twice, and the order is kept.

`MOLDCARE_TESTS_OUTBOX_SEEDS=500` tries five hundred stories; a failing one names its seed.
"""

import os
import random
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from django.db import connection
from playwright.sync_api import BrowserContext

from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue
from tests.browser.outbox.faulty_proxy import FaultyProxy, Net
from tests.browser.outbox.waiting import OutboxTablet, outbox_tablet, sign_in, words

SEEDS = int(os.environ.get("MOLDCARE_TESTS_OUTBOX_SEEDS", "3"))
EVENTS = 14
NewContext = Callable[..., BrowserContext]
# a page cannot be opened anew where somebody else's answers, or nobody's within the time limit
OPENS = {Net.GOOD, Net.REFUSED, Net.RESET, Net.CUT}


@dataclass
class Story:
    """What happens on one tablet, by the numbers of one seed."""

    seed: int
    net: FaultyProxy
    order: Order
    person: Person
    tablet: OutboxTablet
    kept: dict[str, list[str]] = field(default_factory=lambda: {"one": [], "two": []})
    tried: set[str] = field(default_factory=set)
    told: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)

    def happen(self) -> None:
        """Let one thing happen."""
        acts = {
            self.fill_in: 6,
            self.change_net: 5,
            self.open_anew: 1,
            self.kill_page: 1,
            self.end_session: 1,
            self.send_now: 2,
            self.second_tab: 1,
        }
        act = self.chance.choices(list(acts), weights=list(acts.values()))[0]
        self.told.append(act.__name__)
        act()

    def fill_in(self) -> None:
        """Fill in a step; what the tablet says it kept must come in."""
        subject = self.chance.choice(["one", "two"])
        value = f"{self.seed} {subject} {len(self.tried)}"
        self.tried.add(value)
        if words(self.tablet, self.order, value, subject=f"{self.seed} {subject}"):
            self.kept[subject].append(value)

    def change_net(self) -> None:
        """Let the network do something else."""
        self.net.lag_s = self.chance.uniform(0.0, 0.05)
        self.net.net = self.chance.choice(list(Net))
        self.told.append(self.net.net)

    def open_anew(self) -> None:
        """Load the page again."""
        if self.net.net in OPENS:
            self.tablet.page.reload()

    def kill_page(self) -> None:
        """End the page wherever it is at, and open another."""
        if self.net.net in OPENS:
            self.tablet.page.close()
            self.tablet.again()
            self.tablet.go("/tablet")

    def end_session(self) -> None:
        """Let the session end; somebody signs on again."""
        self.tablet.context.clear_cookies(name="sessionid")
        sign_in(self.tablet.context, self.tablet.home, self.person, device=f"{self.seed}")

    def send_now(self) -> None:
        """Tap Send now."""
        self.tablet.send_now()

    def second_tab(self) -> None:
        """Open a second page, which sends too."""
        if self.net.net in OPENS:
            self.tablet.again()
            self.tablet.go("/tablet")

    def end(self) -> None:
        """The net is good at last: everything goes in."""
        self.net.net = Net.RESET
        self.net.net = Net.GOOD
        self.tablet.until(
            "async () => { for (const one of await store.entries()) "
            "if (one.nextAt) await store.put({...one, nextAt: 0}); outbox.flush(); "
            "return (await store.entries()).length === 0; }",
            tries=2000,
        )


def written_by(seed: int, *, subject: str) -> list[str]:
    """What is written down of one story, in the order of arrival."""
    rows = StepValue.objects.filter(value__startswith=f"{seed} {subject} ").order_by("id")
    found = list(rows.values_list("value", flat=True))
    connection.close()
    return found


@pytest.mark.slow
def test_nothing_is_lost_and_nothing_comes_twice(
    net: FaultyProxy, order: Order, tomas: Person, new_context: NewContext
) -> None:
    for seed in range(SEEDS):
        net.net = Net.GOOD
        context = new_context()
        tablet = outbox_tablet(context, net.url, person=tomas, device=f"{seed}")
        tablet.go("/tablet")
        tablet.ready()
        tablet.packed("/tablet")
        story = Story(seed=seed, net=net, order=order, person=tomas, tablet=tablet)
        for _event in range(EVENTS):
            story.happen()
        story.end()
        for subject, kept in story.kept.items():
            found = written_by(seed, subject=subject)
            about = f"seed {seed}: {story.told}"
            assert len(found) == len(set(found)), about
            assert [value for value in found if value in kept] == kept, about
            assert set(found) <= story.tried, about
        assert tablet.wrong == [], f"seed {seed}"
        context.close()
