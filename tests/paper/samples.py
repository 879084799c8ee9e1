"""Invented documents, as full as real ones are."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from moldcare.core.chain import ChainHead, content_hash
from moldcare.paper.logbook import FactLine, LogbookEntry, LogbookMonth, PhotoLine, SealLine
from moldcare.paper.marks import StripFigures
from moldcare.paper.work_order import (
    DueState,
    Meaning,
    PlannedSupply,
    StepKind,
    WorkOrderDocument,
    WorkOrderStep,
    WorkOrderTask,
)


def vents_task() -> WorkOrderTask:
    """A task past its hard limit, with values and choices."""
    return WorkOrderTask(
        name="Vents, bench clean",
        reason="131,200 of 125,000 shots since 12 Aug. Past its hard limit. Found heavy last time.",
        state=DueState.PAST_LIMIT,
        state_text="past limit",
        reach="faces open",
        standard_minutes=90,
        strip=StripFigures(share=1.05, margin_share=1.03, hard_limit_share=1.04),
        steps=[
            WorkOrderStep(
                text="Look at vent lands and dumps before anything is wiped; photograph them.",
                kind=StepKind.PHOTO,
            ),
            WorkOrderStep(
                text="What lies on the vents?",
                kind=StepKind.CHOICE,
                choices=["nothing", "dry, loose", "dry, baked on", "sticky", "liquid"],
            ),
            WorkOrderStep(
                text="Lift residue with soft brass or plastic scrapers and lint-free cloth. "
                "No stones, pads or blasting on the vent land."
            ),
            WorkOrderStep(text="Open each dump to the outside; light shows through."),
            WorkOrderStep(
                text="Vent depth at cavity 17, by indicator on stand",
                kind=StepKind.VALUE,
                unit="mm",
                at_least=Decimal("0.010"),
                at_most=Decimal("0.020"),
                reference="new: 0.015 mm",
            ),
        ],
        supplies=[
            PlannedSupply(name="Lint-free cloth", planned=6, unit="pcs", storage_place="bench 2"),
            PlannedSupply(name="Mold cleaner, plant no. 4", planned=Decimal("0.2"), unit="l"),
        ],
        covers=["Vents, wipe in press"],
        signs=["burn marks at the end of fill", "short shots"],
    )


def slides_task() -> WorkOrderTask:
    """A short task that is due soon."""
    return WorkOrderTask(
        name="Grease slides and leader pins",
        reason="18,900 of 20,000 cycles. Reached about 08:30 on Thu.",
        state=DueState.DUE_SOON,
        state_text="due soon",
        reach="faces open",
        standard_minutes=20,
        strip=StripFigures(share=0.945, margin_share=1.1),
        steps=[
            WorkOrderStep(
                text="Wipe off the old grease; say what it looked like.", kind=StepKind.TEXT
            ),
            WorkOrderStep(text="Thin film on slides, gibs and leader pins by the plant's chart."),
            WorkOrderStep(
                text="Play of slide 2 in its gib",
                kind=StepKind.VALUE,
                unit="mm",
                at_most=Decimal("0.05"),
            ),
        ],
        supplies=[PlannedSupply(name="Grease, plant no. 11", unit="g")],
    )


def flow_task() -> WorkOrderTask:
    """A flow test that is due."""
    return WorkOrderTask(
        name="Flow test, all circuits",
        reason="Every 90 days; last on 27 Aug 2026.",
        state=DueState.DUE,
        state_text="due",
        reach="closed",
        standard_minutes=30,
        strip=StripFigures(share=1.0, margin_share=1.1),
        steps=[
            WorkOrderStep(
                text=f"Flow through circuit {circuit} at 1.0 bar across it",
                kind=StepKind.VALUE,
                unit="l/min",
                at_least=Decimal("4.25"),
                reference=f"clean: {clean} l/min",
            )
            for circuit, clean in (("A1", "4.8"), ("A2", "4.7"), ("B1", "5.0"), ("B2", "4.9"))
        ],
        has_grade=False,
    )


def usual_work_order() -> WorkOrderDocument:
    """The work order of one mold on the bench with three tasks."""
    return WorkOrderDocument(
        language="en",
        order_number="2214",
        mold_number="0417",
        mold_name="Dripper cap, 32 cavities",
        place="Bench 2",
        total_cycles=1_204_512,
        total_shots=1_203_900,
        total_as_of="3 Nov, 06:00",
        is_customer_property=True,
        owner="Asterline Irrigation",
        half_masses_kg=(420, 515),
        planned_shift="Tue 3 Nov, early",
        people=["Ines Vogt", "Pavel Dřevo"],
        lockout_procedure="Toolroom 3.2",
        code_text="https://moldcare.example.test/order/2214",
        families=["vents", "lubrication", "leak_test"],
        tasks=[vents_task(), slides_task(), flow_task()],
        signatures=[Meaning.DONE, Meaning.CHECKED],
        printed_at="3 Nov 2026, 05:52",
        printed_by="Ruth Okafor",
        plant_name="Example plant",
    )


def small_work_order() -> WorkOrderDocument:
    """One quick task in the press."""
    return replace(
        usual_work_order(),
        tasks=[slides_task()],
        families=["lubrication"],
        signatures=[Meaning.DONE],
        is_estimated=True,
        total_shots=None,
    )


def long_work_order() -> WorkOrderDocument:
    """A work order at its widest: long texts, long words, many supplies."""
    finding = "The land of the vent at cavity 17 is hobbed and the dump behind it is closed. " * 160
    lines = "\n".join(f"{line}. Turn the blade a quarter and look again." for line in range(1, 81))
    task = replace(
        vents_task(),
        reason=finding[:12_000],
        steps=[
            WorkOrderStep(text=lines),
            WorkOrderStep(text="Ж" * 120, kind=StepKind.VALUE, unit="mm", at_most=Decimal(1)),
        ],
        supplies=[
            PlannedSupply(name=f"O-ring {number} x 2.5 mm, heat-proof", planned=4, unit="pcs")
            for number in range(1, 41)
        ],
    )
    return replace(usual_work_order(), tasks=[task], mold_name="Housing " + "X" * 120)


BERLIN = ZoneInfo("Europe/Berlin")


def digest(text: str) -> str:
    """Give a hash to print; the paper does not check it."""
    return content_hash(text.encode())


def log_entry(number: int, at: datetime, **changes: object) -> LogbookEntry:
    """One signed entry of mold 0417."""
    entry = LogbookEntry(
        chain_label="0417",
        number=number,
        kind="work order signed",
        happened_at=at - timedelta(minutes=12),
        written_at=at,
        author="Ines Vogt",
        meaning="done",
        sentence="Vents bench cleaned. Found heavy: dry residue, baked on, all cavities.",
        facts=[
            FactLine(label="count", value=1_204_512, unit="cycles"),
            FactLine(label="vent depth, cavity 17", value=Decimal("0.015"), unit="mm"),
            FactLine(label="minutes", value=95),
        ],
        hash=digest(f"0417 {number}"),
    )
    return replace(entry, **changes)  # type: ignore[arg-type]


def mold_month() -> LogbookMonth:
    """A sealed month of one mold with corrections, a late entry and photos."""
    day = datetime(2026, 11, 3, 13, 5, tzinfo=UTC)
    october = log_entry(
        40,
        datetime(2026, 10, 28, 21, 0, tzinfo=UTC),
        sentence="Flow test, circuit B2: 11.9 l/min at 1.0 bar.",
        facts=[FactLine(label="flow, circuit B2", value=Decimal("11.9"), unit="l/min")],
    )
    entries = [
        log_entry(
            41,
            day,
            photos=[PhotoLine(name="vents before, cavity 17.jpg", sha256=digest("photo"))],
        ),
        log_entry(
            42,
            day + timedelta(minutes=40),
            kind="moved",
            meaning="",
            author="Pavel Dřevo",
            sentence="Moved from bench 2 to rack B4. Fit to run.",
            facts=[],
        ),
        log_entry(
            43,
            day + timedelta(hours=17),
            kind="correction",
            corrects=41,
            sentence="Vents bench cleaned. Found light, not heavy: loose residue, cavities 1 to 8.",
            facts=[FactLine(label="reason", value="wrong box ticked")],
        ),
        log_entry(
            44,
            day + timedelta(hours=18),
            kind="correction",
            corrects=40,
            original=october,
            sentence="Flow test, circuit B2: 10.9 l/min at 1.0 bar.",
            facts=[
                FactLine(label="flow, circuit B2", value=Decimal("10.9"), unit="l/min"),
                FactLine(label="reason", value="digits swapped on the paper sheet"),
            ],
        ),
        log_entry(
            45,
            day + timedelta(days=2),
            happened_at=datetime(2026, 10, 30, 21, 10, tzinfo=UTC),
            kind="work order signed, from paper",
            sentence="Slides and leader pins greased. Found clean.",
        ),
        log_entry(46, day + timedelta(days=2) - timedelta(minutes=10), author="Łukasz Ørsted"),
    ]
    return LogbookMonth(
        language="en",
        zone=BERLIN,
        month=date(2026, 11, 1),
        plate="0417",
        name="Dripper cap, 32 cavities",
        owner="Asterline Irrigation",
        is_customer_property=True,
        retention="31 Dec 2041",
        check_said="whole, no. 1 to 46",
        entries=entries,
        heads=[ChainHead(chain_kind="mold", chain_label="0417", number=46, hash=digest("0417 46"))],
        seal=SealLine(
            hash=digest("seal"),
            sealed_by="Ruth Okafor",
            sealed_at=datetime(2026, 12, 1, 7, 30, tzinfo=UTC),
        ),
        signatures=["checked, toolroom lead", "accepted, quality"],
        plant_name="Example plant",
        printed_at="1 Dec 2026, 08:40",
        printed_by="Ruth Okafor",
    )


def plant_month(*, entries_count: int = 200) -> LogbookMonth:
    """An open month of the whole plant over many molds."""
    start = datetime(2026, 11, 2, 5, 10, tzinfo=UTC)
    labels = [f"{number:04d}" for number in range(101, 121)]
    entries = [
        log_entry(
            at // len(labels) + 1,
            start + timedelta(minutes=97 * at),
            chain_label=labels[at % len(labels)],
            hash=digest(f"plant {at}"),
        )
        for at in range(entries_count)
    ]
    return replace(
        mold_month(),
        plate="",
        name="All molds, auxiliaries and the plant's own entries",
        owner="",
        is_customer_property=False,
        entries=entries,
        check_said="20 chains, whole",
        heads=[
            ChainHead(chain_kind="mold", chain_label=label, number=10, hash=digest(label))
            for label in labels
        ],
        seal=None,
        signatures=["checked, toolroom lead"],
    )
