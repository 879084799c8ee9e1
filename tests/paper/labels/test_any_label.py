"""Whatever people typed, the label comes out, or a sentence does."""

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from moldcare.core.errors import LabelsRefused
from moldcare.paper.labels import (
    STOCKS,
    Label,
    LabelsDocument,
    LabelStock,
    label_layout,
    labels_pdf,
)
from tests.paper.reading import page_texts

signs = st.one_of(
    st.characters(exclude_categories=["Cs"]), st.sampled_from("<>&\"'()\\/ \n\r\t%;#[]")
)
texts = st.text(signs, max_size=40) | st.builds(lambda sign: sign * 120, signs)
quick = settings(deadline=None, max_examples=60, phases=[Phase.explicit, Phase.generate])


@quick
@given(
    st.builds(Label, kind=texts, number=texts, name=texts, code_text=texts, bar_text=texts),
    texts,
    st.sampled_from(STOCKS),
)
def test_any_label_is_printed_or_refused(label: Label, plant_name: str, stock: LabelStock) -> None:
    document = LabelsDocument(
        language="en",
        stock=stock,
        labels=[label, label],
        plant_name=plant_name,
    )
    try:
        paper = labels_pdf(document)
    except LabelsRefused:
        assert label_layout(label, stock=stock).code is None
        return
    assert len(page_texts(paper)) == paper.pages
