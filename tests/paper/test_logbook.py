"""A month of the logbook on paper."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.logbook import FactLine, LogbookMonth, logbook_pdf
from moldcare.paper.logbook.month import Placed
from tests.paper import samples
from tests.paper.reading import page_texts, squeezed, whole_text


def printed(month: LogbookMonth, paper_size: PaperSize = PaperSize.A4) -> Paper:
    return logbook_pdf(month, paper_size=paper_size)


def test_every_entry_is_printed_with_number_author_sentence_and_hash() -> None:
    month = samples.mold_month()
    text = squeezed(whole_text(printed(month)))
    for entry in month.entries:
        assert f"No.{entry.number}" in text
        assert squeezed(entry.sentence) in text
        assert squeezed(entry.author) in text
        assert entry.hash in text
        for photo in entry.photos:
            assert photo.sha256 in text


def test_entries_stand_in_the_order_in_which_they_were_written() -> None:
    month = samples.plant_month(entries_count=60)
    text = squeezed(whole_text(printed(month)))
    places = [text.index(entry.hash) for entry in month.entries]
    assert places == sorted(places)


def test_correction_of_the_same_month_stands_under_what_it_corrects() -> None:
    month = samples.mold_month()
    text = whole_text(printed(month))
    original, moved, correction = month.entries[:3]
    assert text.index(original.hash) < text.index(correction.hash) < text.index(moved.hash)
    assert text.count(correction.sentence) == 1
    assert text.index(moved.hash) < text.index("No. 43 corrects no. 41: printed under it.")


def test_correction_of_an_earlier_month_repeats_the_original() -> None:
    month = samples.mold_month()
    correction = month.entries[3]
    assert correction.original is not None
    text = whole_text(printed(month))
    said = "As it was: no. 40, written 28 Oct 2026, 22:00 by Ines Vogt"
    assert said in text
    assert text.index(said) < text.index(correction.original.sentence)
    assert text.index(correction.original.sentence) < text.index(correction.sentence)


def test_corrections_of_corrections_stand_under_the_first_original() -> None:
    at = datetime(2026, 11, 3, 8, tzinfo=UTC)
    entries = [
        samples.log_entry(1, at),
        samples.log_entry(2, at + timedelta(hours=1), corrects=1),
        samples.log_entry(3, at + timedelta(hours=2)),
        samples.log_entry(4, at + timedelta(hours=3), corrects=2),
    ]
    places = Placed.all_of(entries)
    assert [place.entry.number for place in places] == [1, 2, 3, 4]
    assert [place.is_printed_above for place in places] == [False, True, False, True]
    assert [entry.number for entry in places[0].corrections] == [2, 4]


def test_corrections_are_told_apart_by_chain() -> None:
    at = datetime(2026, 11, 3, 8, tzinfo=UTC)
    entries = [
        samples.log_entry(1, at, chain_label="0417"),
        samples.log_entry(1, at, chain_label="0418"),
        samples.log_entry(2, at, chain_label="0418", corrects=1),
        samples.log_entry(2, at, chain_label="0419", corrects=1),
    ]
    places = Placed.all_of(entries)
    assert [len(place.corrections) for place in places] == [0, 1, 0, 0]
    assert [place.is_printed_above for place in places] == [False, False, True, False]


def test_late_entry_names_its_day() -> None:
    # 21:10 UTC on 30 October is 22:10 in the plant, after summer time has ended
    assert "late: for 30 Oct 2026, 22:10" in whole_text(printed(samples.mold_month()))


def test_times_are_those_of_the_plants_zone() -> None:
    text = whole_text(printed(samples.mold_month()))
    assert "Tue 3 Nov 2026" in text
    assert "14:05" in text
    assert "done at 13:53" in text


def test_clock_that_went_back_is_said() -> None:
    assert whole_text(printed(samples.mold_month())).count("the clock went back") == 1
    month = samples.mold_month()
    without = replace(month, entries=month.entries[:5])
    assert "the clock went back" not in whole_text(printed(without))


@pytest.mark.parametrize("paper_size", PaperSize)
def test_seal_and_head_stand_on_every_page(paper_size: PaperSize) -> None:
    month = samples.mold_month()
    at = datetime(2026, 11, 4, 8, tzinfo=UTC)
    many = [samples.log_entry(number, at) for number in range(1, 60)]
    paper = printed(replace(month, entries=many), paper_size)
    assert paper.pages > 3
    assert month.seal is not None
    for text in page_texts(paper):
        assert f"seal {month.seal.hash}" in text
        assert f"head {month.heads[0].hash} no. 46" in text


def test_open_month_says_that_it_is_not_sealed() -> None:
    for text in page_texts(printed(samples.plant_month(entries_count=30))):
        assert "this month is not sealed" in text


def test_plant_month_prints_every_head_and_the_mold_of_every_entry() -> None:
    month = samples.plant_month(entries_count=40)
    text = whole_text(printed(month))
    for head in month.heads:
        assert head.hash in text
        assert text.count(head.chain_label) >= 3


def test_owner_retention_and_signature_lines_are_printed() -> None:
    text = whole_text(printed(samples.mold_month()))
    for said in ("Asterline Irrigation", "customer's property", "31 Dec 2041"):
        assert said in text
    for said in ("checked, toolroom lead", "accepted, quality"):
        assert said in text


def test_figures_are_those_of_the_plant() -> None:
    facts = [
        FactLine(label="a", value=12_400, unit="shots"),
        FactLine(label="b", value=Decimal("4.25"), unit="l/min"),
        FactLine(label="c", value=None),
        FactLine(label="d", value=True),
        FactLine(label="e", value="dry"),
    ]
    month = samples.mold_month()
    entry = replace(month.entries[0], facts=facts)
    text = whole_text(printed(replace(month, language="de", entries=[entry])))
    assert "a: 12.400 shots · b: 4,25 l/min · c: – · d:" in text
    assert "e: dry" in text
    assert "True" not in text


def test_month_without_entries_says_so() -> None:
    paper = printed(replace(samples.mold_month(), entries=[]))
    assert paper.pages == 1
    assert "Nothing was written in November 2026." in whole_text(paper)


def test_entry_longer_than_a_page_is_printed_whole_and_named_again() -> None:
    month = samples.mold_month()
    sentence = " ".join(f"word{number}" for number in range(2000)) + " " + "Q" * 120
    entry = replace(month.entries[0], sentence=sentence, photos=[])
    paper = printed(replace(month, entries=[entry]))
    assert paper.pages >= 3
    text = squeezed(whole_text(paper))
    assert [text.count(f"word{number}") >= 1 for number in range(2000)] == [True] * 2000
    assert text.count("Q") == 120
    second = [line.strip() for line in page_texts(paper)[1].splitlines()]
    assert "No. 41" in second
    assert " ".join(second).count("continued") == 2


def test_corrected_sentence_stays_readable() -> None:
    month = samples.mold_month()
    assert month.entries[0].sentence in whole_text(printed(month))
