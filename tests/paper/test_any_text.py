"""Whatever people typed, the paper comes out."""

from dataclasses import replace

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from moldcare.paper.frame import PaperSize
from moldcare.paper.logbook import FactLine, PhotoLine, logbook_pdf
from moldcare.paper.work_order import (
    Grade,
    PlannedSupply,
    StepKind,
    WorkOrderStep,
    work_order_pdf,
)
from tests.paper import samples
from tests.paper.reading import page_texts

# signs that markup and PDF treat specially, signs no face has, words that never end
signs = st.one_of(
    st.characters(exclude_categories=["Cs"]), st.sampled_from("<>&\"'()\\/ \n\r\t%;#[]")
)
texts = st.text(signs, max_size=40)
names = texts | st.builds(lambda sign: sign * 120, signs)
long_texts = texts | st.builds(lambda sign: sign * 400, signs)
sizes = st.sampled_from(PaperSize)
# a failing document is read as it is: shrinking would set thousands of them
quick = settings(deadline=None, max_examples=12, phases=[Phase.explicit, Phase.generate])


@quick
@given(st.data(), sizes)
def test_any_work_order_is_printed(data: st.DataObject, paper_size: PaperSize) -> None:
    def name() -> str:
        return data.draw(names)

    def text() -> str:
        return data.draw(long_texts)

    steps = [
        WorkOrderStep(
            text=text(), kind=kind, unit=name(), reference=name(), choices=[name(), name()]
        )
        for kind in StepKind
    ]
    task = replace(
        samples.vents_task(),
        name=name(),
        reason=text(),
        state_text=name(),
        reach=name(),
        covers=[name()],
        steps=steps,
        supplies=[PlannedSupply(name=name(), planned=1, unit=name(), storage_place=name())],
        grades=[Grade(name="heavy & <b>", meaning="as < before &amp; after") for _ in range(4)],
    )
    document = replace(
        samples.usual_work_order(),
        order_number=name(),
        mold_number=name(),
        mold_name=name(),
        place=name(),
        owner=name(),
        people=[name(), name()],
        planned_shift=name(),
        lockout_procedure=text(),
        note=text(),
        printed_by=name(),
        plant_name=name(),
        tasks=[task],
    )
    paper = work_order_pdf(document, paper_size=paper_size)
    assert len(page_texts(paper)) == paper.pages


@quick
@given(st.data(), sizes)
def test_any_month_is_printed(data: st.DataObject, paper_size: PaperSize) -> None:
    def name() -> str:
        return data.draw(names)

    def text() -> str:
        return data.draw(long_texts)

    month = samples.mold_month()
    entries = [
        replace(
            entry,
            chain_label=name(),
            kind=name(),
            author=name(),
            meaning=name(),
            sentence=text(),
            facts=[FactLine(label=name(), value=text(), unit=name())],
            photos=[PhotoLine(name=name(), sha256="0" * 64)],
        )
        for entry in month.entries
    ]
    filled = replace(
        month,
        plate=name(),
        name=name(),
        owner=name(),
        retention=name(),
        check_said=name(),
        signatures=[name()],
        entries=entries,
    )
    paper = logbook_pdf(filled, paper_size=paper_size)
    assert len(page_texts(paper)) == paper.pages


def test_longest_texts_in_every_place_are_printed() -> None:
    long_text = "A text that somebody pasted from elsewhere. " * 270
    task = replace(
        samples.vents_task(),
        name=long_text,
        reason=long_text,
        steps=[
            WorkOrderStep(text=long_text, kind=kind, reference=long_text, choices=["yes", "no"])
            for kind in StepKind
        ],
        supplies=[PlannedSupply(name=long_text)],
    )
    document = replace(
        samples.usual_work_order(), lockout_procedure=long_text, note=long_text, tasks=[task]
    )
    paper = work_order_pdf(document, paper_size=PaperSize.LETTER)
    said = " ".join(" ".join(page_texts(paper)).split())
    times = 270 * (4 + 2 * len(StepKind) + 1)
    # only a value's reference stands on paper: other kinds of step have none
    times -= 270 * (len(StepKind) - 1)
    assert said.count("pasted") == times
