"""The one reader, matcher and verdict for every table that comes in as a file."""

from moldcare.feeds.tables.columns import Column
from moldcare.feeds.tables.headings import READINGS, Vocabulary
from moldcare.feeds.tables.layout import Form
from moldcare.feeds.tables.matching import Match, Matcher, matcher
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.questions import Choice, Question, answers_from_command
from moldcare.feeds.tables.reader import Table, open_table
from moldcare.feeds.tables.reading_rows import ReadingRow
from moldcare.feeds.tables.readings import Plan, read_readings
from moldcare.feeds.tables.rows import Row
from moldcare.feeds.tables.text import words_of
from moldcare.feeds.tables.verdicts import (
    Problem,
    Proposal,
    RowVerdict,
    Verdict,
    verdicts_hash,
)

__all__ = [
    "READINGS",
    "Choice",
    "Column",
    "Form",
    "Match",
    "Matcher",
    "Meaning",
    "Plan",
    "Problem",
    "Proposal",
    "Question",
    "ReadingRow",
    "Row",
    "RowVerdict",
    "Table",
    "Verdict",
    "Vocabulary",
    "answers_from_command",
    "matcher",
    "open_table",
    "read_readings",
    "verdicts_hash",
    "words_of",
]
