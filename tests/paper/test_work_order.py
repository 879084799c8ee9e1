"""The work order: everything for the work without a screen."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from moldcare.paper.cautions import DEFERENCE, cautions_for
from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.marks import StripFigures
from moldcare.paper.work_order import (
    AS_FOUND_GRADES,
    DueState,
    Meaning,
    StepKind,
    WorkOrderDocument,
    WorkOrderStep,
    work_order_pdf,
)
from tests.paper import samples
from tests.paper.reading import page_texts, squeezed, whole_text


def printed(document: WorkOrderDocument, paper_size: PaperSize = PaperSize.A4) -> Paper:
    return work_order_pdf(document, paper_size=paper_size)


@pytest.mark.parametrize("paper_size", PaperSize)
def test_usual_orders_have_one_to_three_pages(paper_size: PaperSize) -> None:
    assert printed(samples.small_work_order(), paper_size).pages <= 2
    assert printed(samples.usual_work_order(), paper_size).pages <= 3


def test_all_that_the_work_needs_is_printed() -> None:
    document = samples.usual_work_order()
    text = squeezed(whole_text(printed(document)))
    said = [
        document.mold_number,
        document.mold_name,
        document.place,
        document.owner,
        "customer's property",
        document.planned_shift,
        *document.people,
        document.lockout_procedure,
        "1,204,512 cycles",
        "1,203,900 shots",
        "A 420 kg",
        "B 515 kg",
        str(DEFERENCE),
        *(str(caution.text) for caution in cautions_for(document.families)),
    ]
    for task in document.tasks:
        said += [task.name, task.reason, task.state_text, *task.covers, *task.signs]
        said += [supply.name for supply in task.supplies]
        for step in task.steps:
            said += [step.text, step.unit, step.reference, *step.choices]
    for each in said:
        assert squeezed(each) in text, each


def test_first_page_holds_cautions_and_lock_out_before_the_first_step() -> None:
    first = squeezed(page_texts(printed(samples.usual_work_order()))[0])
    places = [
        first.index(squeezed(said))
        for said in (
            "Lock-out and stored energy.",
            "Lock-out, before hands go in.",
            "Vents, bench clean",
            "Look at vent lands",
        )
    ]
    assert places == sorted(places)


def test_only_the_cautions_of_its_families_are_printed() -> None:
    document = replace(samples.small_work_order(), families=["lubrication"])
    text = whole_text(printed(document))
    assert "Acids and descalers." not in text
    assert "Acids and descalers." in whole_text(printed(replace(document, families=["descaling"])))
    more = replace(document, more_cautions=["acids"])
    assert "Acids and descalers." in whole_text(printed(more))


@pytest.mark.parametrize(
    ("least", "most", "said"),
    [
        (Decimal("0.010"), Decimal("0.020"), "0.010 to 0.020 mm"),
        (Decimal("4.25"), None, "at least 4.25 mm"),
        (None, Decimal("0.05"), "at most 0.05 mm"),
    ],
)
def test_value_line_prints_its_limits(
    least: Decimal | None, most: Decimal | None, said: str
) -> None:
    step = WorkOrderStep(text="Play", kind=StepKind.VALUE, unit="mm", at_least=least, at_most=most)
    task = replace(samples.slides_task(), steps=[step])
    assert said in whole_text(printed(replace(samples.small_work_order(), tasks=[task])))


def test_numbers_are_those_of_the_plant() -> None:
    step = replace(samples.flow_task().steps[0], at_most=Decimal("12400"))
    document = replace(
        samples.usual_work_order(),
        language="de",
        total_cycles=12_400,
        tasks=[replace(samples.vents_task(), steps=[step])],
    )
    text = whole_text(printed(document))
    assert "12.400" in text
    assert "4,25" in text
    assert "0,2" in text
    assert "12,400" not in text


@pytest.mark.parametrize("state", DueState)
def test_every_state_is_said_in_words(state: DueState) -> None:
    strip = StripFigures(share=2.5, hard_limit_share=3.0, is_unsure=state is DueState.UNSURE)
    task = replace(
        samples.slides_task(), state=state, state_text=f"it is {state.value}", strip=strip
    )
    text = whole_text(printed(replace(samples.small_work_order(), tasks=[task])))
    assert f"it is {state.value}" in text


def test_estimated_total_is_marked() -> None:
    text = whole_text(printed(samples.small_work_order()))
    assert "about 1,204,512 cycles" in text
    assert "estimated: read the counter" in text
    assert "estimated" not in whole_text(printed(samples.usual_work_order()))


def test_unknown_total_is_said_and_not_zero() -> None:
    document = replace(samples.small_work_order(), total_cycles=None, is_estimated=False)
    assert "not known: no reading yet" in whole_text(printed(document))


def test_as_found_grades_are_asked_before_the_steps_with_their_meanings() -> None:
    task = samples.slides_task()
    text = whole_text(printed(replace(samples.small_work_order(), tasks=[task])))
    grades = squeezed(text)
    for grade in AS_FOUND_GRADES:
        assert squeezed(str(grade.meaning)) in grades
    assert grades.index("asfound") < grades.index(squeezed(task.steps[0].text))
    without = replace(task, has_grade=False)
    assert "as found" not in whole_text(
        printed(replace(samples.small_work_order(), tasks=[without]))
    )


def test_signatures_asked_for_are_those_printed() -> None:
    document = samples.small_work_order()
    one = whole_text(printed(document))
    assert "I did what is ticked" in one
    assert "I looked at the work" not in one
    three = whole_text(printed(replace(document, signatures=list(Meaning))))
    for sentence in ("I did what is ticked", "I looked at the work", "The mold may go back"):
        assert sentence in three


def test_handwriting_is_said_to_be_typed_in_later_on_every_page() -> None:
    for text in page_texts(printed(samples.usual_work_order())):
        assert "typed in later, and the entry says so" in " ".join(text.split())


def test_finding_longer_than_a_page_is_printed_whole() -> None:
    document = samples.long_work_order()
    paper = printed(document)
    text = squeezed(whole_text(paper))
    task = document.tasks[0]
    words = re.findall(r"Theland|hobbed", squeezed(task.reason))
    assert len(re.findall(r"Theland|hobbed", text)) == len(words)
    numbered = re.findall(r"(?<!\S)(\d+)\. Turn the blade", whole_text(paper))
    assert [int(number) for number in numbered] == list(range(1, 81))
    assert text.count("Ж") == 120
    for supply in task.supplies:
        assert squeezed(supply.name) in text
    assert "X" * 120 in text


def test_part_on_the_next_page_names_its_row_again() -> None:
    texts = page_texts(printed(samples.long_work_order()))
    assert len(texts) > 4
    for text in texts[1:3]:
        lines = [line.strip() for line in text.splitlines()]
        assert "continued" in lines
        assert "1" in lines
    split_steps = [text for text in texts if "50. Turn the blade" in text]
    assert "1.1" in [line.strip() for line in split_steps[0].splitlines()]


def test_plate_and_order_stand_on_every_page() -> None:
    document = samples.long_work_order()
    for text in page_texts(printed(document)):
        assert document.mold_number in text
        assert f"Work order {document.order_number}" in text


def test_long_number_stays_whole_on_its_plate() -> None:
    number = "M-" + "1234567890" * 5
    text = whole_text(printed(replace(samples.small_work_order(), mold_number=number)))
    assert text.count(number) >= 2


def test_order_without_tasks_or_people_still_prints() -> None:
    document = WorkOrderDocument(
        language="en",
        order_number="1",
        mold_number="0001",
        mold_name="",
        place="",
        total_cycles=0,
        signatures=(),
    )
    assert printed(document).pages == 1
