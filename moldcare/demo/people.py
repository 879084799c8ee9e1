"""The people of the demo plant at work: who is there, and who may do what."""

from dataclasses import dataclass
from datetime import datetime
from random import Random

from moldcare.acts.doing import Doing
from moldcare.demo.catalog import PEOPLE
from moldcare.plant.models import Person


@dataclass(frozen=True, kw_only=True, slots=True)
class Crew:
    """The people by their sign-in names, and their qualifications."""

    people: dict[str, Person]
    skills: dict[str, frozenset[str]]

    @classmethod
    def read(cls) -> "Crew":
        """Read everybody from the database."""
        return cls(
            people={person.username: person for person in Person.objects.all()},
            skills={spec.username: frozenset(spec.skills) for spec in PEOPLE},
        )

    def manager(self, now: datetime) -> Doing:
        """Return the manager doing something."""
        return Doing(person=self.people["manager"], now=now)

    def lead(self, now: datetime) -> Doing:
        """Return the lead of that week doing something."""
        name = "lead" if now.isocalendar().week % 4 else "lead2"
        return Doing(person=self.people[name], now=now)

    def technician(self, rng: Random, now: datetime, *, skills: frozenset[str]) -> Doing:
        """Return somebody who has the qualifications; a lead where no technician has them all."""
        able = [
            name
            for name, has in sorted(self.skills.items())
            if skills <= has and self.people[name].role == Person.Role.TECHNICIAN
        ]
        if not able:
            return Doing(person=self.people["lead"], now=now)
        return Doing(person=self.people[rng.choice(able)], now=now)

    def on_shift(self, name: str, now: datetime) -> Doing:
        """Return who walks the round in a shift: they change weekly."""
        rota = ("technician", "t22", "t23", "t24", "t25")
        turn = {"early": 0, "late": 1, "night": 2}.get(name, 0)
        return Doing(person=self.people[rota[(now.isocalendar().week + turn) % 5]], now=now)
