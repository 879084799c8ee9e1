"""Setting the demo plant up on its first day: plant, people, presses, molds, counters, rules."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random
from zoneinfo import ZoneInfo

from moldcare.acts.counters import add_counter, fit_counter
from moldcare.acts.doing import Doing
from moldcare.acts.floor import fit_component
from moldcare.acts.molds import (
    NewCircuit,
    add_auxiliary,
    add_component,
    add_mold,
    add_owner,
    add_position,
    add_supply,
)
from moldcare.acts.people import (
    add_person,
    add_qualification,
    add_training,
    edit_person,
    make_manager,
    set_pin,
)
from moldcare.acts.plant import (
    add_rate,
    add_shift_exception,
    add_shift_pattern,
    add_spot,
    set_plant,
)
from moldcare.acts.refresh import refreshing_once
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.models import CareRule, SetRule
from moldcare.core.shifts import ShiftSlot
from moldcare.counters.models import Counter
from moldcare.demo.care import plans_of
from moldcare.demo.catalog import (
    AUXILIARIES,
    AWAY,
    BENCHES,
    LOCKOUT,
    OWNERS,
    PASSWORD,
    PEOPLE,
    PLANT_NAME,
    RACKS,
    SUPPLIES,
    ZONE,
    MoldSpec,
    PressSpec,
)
from moldcare.demo.people import Crew
from moldcare.demo.rule_rows import put_auxiliary_rule, put_rules, say_last_done, set_rules
from moldcare.demo.truth import Machine, TrueCounter, TrueMold, Wear, new_wear
from moldcare.molds.models import Auxiliary, Component, Mold, Owner, Position
from moldcare.plant.models import Person, Spot

EARLY, LATE, NIGHT = ("early", time(6), time(14)), ("late", time(14), time(22)), (
    "night", time(22), time(6),
)  # fmt: skip


@dataclass(kw_only=True, slots=True)
class Plant:
    """The plant's rows, and the truth behind them, by press and mold numbers."""

    crew: Crew
    spots: dict[tuple[str, str], Spot] = field(default_factory=dict)
    molds: dict[str, Mold] = field(default_factory=dict)
    rules: dict[int, CareRule] = field(default_factory=dict)
    rules_of: dict[str, list[CareRule]] = field(default_factory=dict)
    counters: dict[str, Counter] = field(default_factory=dict)
    machines: dict[str, Machine] = field(default_factory=dict)
    true_molds: dict[str, TrueMold] = field(default_factory=dict)


def set_up(
    start: datetime,
    *,
    rng: Random,
    molds: tuple[MoldSpec, ...],
    presses: tuple[PressSpec, ...],
    until: date,
) -> Plant:
    """Write the masters as of `start`; everything happens in its morning."""
    with refreshing_once():
        doing = _people(start)
        _shifts(doing, first=start.date() - timedelta(days=40), until=until)
        crew = Crew.read()
        plant = Plant(crew=crew)
        _spots(doing, plant, presses=presses)
        _around(doing)
        owners = _owners(doing)
        for press in presses:
            _press_counter(doing, plant, press)
        load_starting_sets(doing)
        for place, spec in enumerate(molds):
            rack = RACKS[place % len(RACKS)]
            _mold(doing, plant, spec, owner=owners[spec.owner], rack=rack, rng=rng)
        known = set_rules()
        for spec in molds:
            _rules(doing, plant, spec, rng=rng, known=known)
        for number, _name, _kind, days in AUXILIARIES:
            auxiliary = Auxiliary.objects.get(number=number)
            rule = put_auxiliary_rule(doing, auxiliary=auxiliary, name="Look it over", days=days)
            before = timedelta(days=int(days * rng.uniform(0.1, 0.9)))
            say_last_done(doing, rule=rule, on=start.date() - before, count=None)
    return plant


def _people(start: datetime) -> Doing:
    manager = PEOPLE[0]
    doing = Doing(
        person=make_manager(
            username=manager.username, name=manager.name, password=PASSWORD, now=start
        ),
        now=start,
    )
    record = {"name": PLANT_NAME, "zone": ZONE, "lockout_procedure": LOCKOUT}
    set_plant(doing, changes=record, is_demo=True)
    edit_person(doing, person=doing.person, changes={"badge": manager.badge})
    set_pin(doing, person=doing.person, pin=manager.pin)
    for spec in PEOPLE[1:]:
        more = {"badge": spec.badge} if spec.badge else {}
        add_person(
            doing,
            username=spec.username,
            name=spec.name,
            role=spec.role,
            password=PASSWORD if spec.signs_in else None,
            pin=spec.pin or None,
            is_wall=spec.is_wall,
            **more,
        )
    people = {person.username: person for person in Person.objects.all()}
    first = start.date()
    for spec in PEOPLE:
        for skill in spec.skills:
            add_qualification(
                doing,
                person=people[spec.username],
                subject=skill,
                evidence="certificate in the personal file",
                valid_from=first - timedelta(days=200),
                valid_to=None if skill != "electrical work" else first + timedelta(days=1500),
            )
    for name, subject in (("technician", "vents and residue"), ("t23", "hot runners")):
        add_training(
            doing, person=people[name], on=first, hours=Decimal(6), subject=f"course: {subject}"
        )
    for kind, amount in (("press", "62"), ("crew", "41"), ("repair", "58")):
        add_rate(doing, kind=kind, amount=Decimal(amount), valid_from=first.replace(day=1))
    return doing


def holidays(year: int) -> list[tuple[date, str]]:
    """Return the days on which the invented plant stands still."""
    return [
        (date(year, 1, 1), "New Year"),
        (date(year, 5, 1), "first of May"),
        (date(year, 12, 24), "year's end"),
        (date(year, 12, 25), "year's end"),
        (date(year, 12, 26), "year's end"),
        (date(year, 12, 31), "year's end"),
    ]


def _shifts(doing: Doing, *, first: date, until: date) -> None:
    slots = [
        ShiftSlot(weekday=day, name=name, starts=starts, ends=ends)
        for day in range(6)
        for name, starts, ends in ((EARLY, LATE, NIGHT) if day < 5 else (EARLY, LATE))
    ]
    add_shift_pattern(doing, valid_from=first, slots=slots)
    for year in range(first.year, until.year + 2):
        for on, reason in holidays(year):
            if first < on and on.weekday() < 6:
                add_shift_exception(doing, on=on, is_worked=False, reason=reason)


def _spots(doing: Doing, plant: Plant, *, presses: tuple[PressSpec, ...]) -> None:
    for press in presses:
        add_spot(doing, kind="press", number=press.number, clamp_kn=press.clamp_kn)
    for kind, numbers in (("bench", BENCHES), ("rack", RACKS), ("away", AWAY)):
        for number in numbers:
            add_spot(doing, kind=kind, number=number)
    plant.spots = {(spot.kind, spot.number): spot for spot in Spot.objects.all()}


def _around(doing: Doing) -> None:
    for number, name, kind, _days in AUXILIARIES:
        add_auxiliary(doing, number=number, name=name, kind=kind)
    for number, name, unit, minimum in SUPPLIES:
        add_supply(doing, number=number, name=name, unit=unit, minimum=Decimal(minimum))


def _owners(doing: Doing) -> dict[str, Owner]:
    for _key, name, is_customer, years in OWNERS:
        add_owner(doing, name=name, is_customer=is_customer, retention_years=years)
    rows = {owner.name: owner for owner in Owner.objects.all()}
    return {key: rows[name] for key, name, _is_customer, _years in OWNERS}


def _press_counter(doing: Doing, plant: Plant, spec: PressSpec) -> None:
    label = f"P{spec.number}"
    add_counter(doing, label=label, digits=spec.digits, rollover=spec.wrap)
    counter = Counter.objects.get(label=label)
    fit_counter(
        doing,
        counter=counter,
        on=plant.spots[("press", spec.number)],
        at=doing.now,
        value_shown=spec.shown,
    )
    plant.counters[label] = counter
    wrap = spec.wrap or 10 ** (spec.digits or 8)
    plant.machines[spec.number] = Machine(
        spec=spec,
        counter=TrueCounter(label=label, wrap=wrap, shown=spec.shown % wrap),
        known_at=doing.now,
    )


def _circuits(spec: MoldSpec) -> tuple[NewCircuit, ...]:
    many = 2 if spec.mass_kg > 250 else 1
    return tuple(
        NewCircuit(
            ident=f"{half}{number}",
            half=half,
            bore_mm=Decimal("10.0" if spec.mass_kg > 500 else "8.0"),
            length_mm=Decimal(900 + spec.mass_kg),
            bends=6,
            bubblers=4 if "bubblers" in spec.has and half == "B" else 0,
            design_flow_l_min=Decimal("9.5"),
        )
        for half in ("A", "B")
        for number in range(1, many + 1)
    )


def _mold(
    doing: Doing, plant: Plant, spec: MoldSpec, *, owner: Owner, rack: str, rng: Random
) -> None:
    add_mold(
        doing,
        number=spec.number,
        name=spec.name,
        standard_cycle_s=spec.cycle_s,
        circuits=_circuits(spec),
        place=plant.spots[("rack", rack)],
        mold_class=spec.mold_class,
        cavity_count=spec.cavities,
        mass_a_kg=Decimal(spec.mass_kg * 45 // 100),
        mass_b_kg=Decimal(spec.mass_kg * 55 // 100),
        owner=owner,
        resin=spec.resin,
        resin_group=spec.resin_group,
        filler=spec.filler,
        finish=spec.finish,
        opening_count=spec.opening,
        opening_source="mold's old card",
        reading_age_shifts=None,
    )
    mold = Mold.objects.get(number=spec.number)
    plant.molds[spec.number] = mold
    true = TrueMold(spec=spec, cycle_s=float(spec.cycle_s) * rng.uniform(0.97, 1.05))
    plant.true_molds[spec.number] = true
    if "own" in spec.has:
        label = f"C{spec.number.removeprefix('M-')}"
        shown = spec.opening % 10_000_000
        add_counter(doing, label=label, digits=7)
        counter = Counter.objects.get(label=label)
        fit_counter(doing, counter=counter, on=mold, at=doing.now, value_shown=shown)
        plant.counters[label] = counter
        true.counter = TrueCounter(label=label, wrap=10_000_000, shown=shown)
    if "inserts" in spec.has:
        for place in range(1, 4):
            add_position(
                doing,
                mold=mold,
                ident=f"core {place}",
                name="core",
                is_forming=True,
                cavity=mold.cavities.get(ident=str(place)),
            )
            serial = f"{spec.number.removeprefix('M-')}-K{place}"
            add_component(doing, serial=serial, name="core", opening_shots=40_000 * place,
                          opening_cycles=40_000 * place)  # fmt: skip
            fit_component(
                doing,
                component=Component.objects.get(serial=serial),
                position=Position.objects.get(mold=mold, ident=f"core {place}"),
                at=doing.now,
            )


def _rules(
    doing: Doing,
    plant: Plant,
    spec: MoldSpec,
    *,
    rng: Random,
    known: dict[tuple[str, str], SetRule],
) -> None:
    mold = plant.molds[spec.number]
    plans = plans_of(spec, anchor_on=date(doing.now.year, 3, 15))
    rules = put_rules(doing, mold=mold, plans=plans, known=known)
    true = plant.true_molds[spec.number]
    on = doing.now.astimezone(ZoneInfo(ZONE)).date()
    for rule in rules:
        interval = interval_cycles(rule)
        days = rule.period_n
        part = rng.uniform(0.0, 0.85)
        then = on - timedelta(days=int(part * (days or 200)))
        count = None
        since = 0
        if interval is not None and spec.opening > 0:
            since = min(int(part * interval), spec.opening)
            count = spec.opening - since
        if rule.count_base is None:
            count = None
        if (days or 0) >= 270 and spec.opening > 5000:
            say_last_done(doing, rule=rule, on=then, count=count)
        else:
            then, since = on, 0
        plant.rules[rule.pk] = rule
        wear = new_wear(
            rng,
            interval_cycles=interval,
            interval_days=days,
            cycles=-since,
            now=doing.now - timedelta(days=(on - then).days),
        )
        true.wear[rule.pk] = _no_trouble_yet(wear, now=doing.now)
    plant.rules_of[spec.number] = rules


def _no_trouble_yet(wear: Wear, *, now: datetime) -> Wear:
    """Let a mold that was running well last at least a little longer."""
    used = wear.used(cycles=0, now=now)
    if used > 0.9:
        wear.life_cycles *= used / 0.9
        wear.life_days *= used / 0.9
    return wear


def interval_cycles(rule: CareRule) -> float | None:
    """Return the interval by count after factors, as cycles; running hours at a 20 s cycle."""
    if rule.count_base is not None:
        factor = max(rule.factor_resin * rule.factor_filler * rule.factor_finish, Decimal("0.3"))
        return float(rule.count_base * factor)
    return rule.hours_limit * 180.0 if rule.hours_limit else None
