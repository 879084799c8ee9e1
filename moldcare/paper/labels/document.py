"""What labels print, as plain data."""

from collections.abc import Sequence
from dataclasses import dataclass

from moldcare.paper.labels.stock import LabelStock


@dataclass(frozen=True, kw_only=True, slots=True)
class Label:
    """One label: `code_text` is what the square code holds, `bar_text` what the bars hold.

    `kind` is the word before the number: mold, circuit, press.
    """

    kind: str
    number: str
    code_text: str
    bar_text: str
    name: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class LabelsDocument:
    """Labels for one kind of stock.

    `start_at` is the first free label of a sheet that was begun, counted from 1, row by row. The
    offsets move everything right and down: printers are a little off, each by its own.
    """

    language: str
    stock: LabelStock
    labels: Sequence[Label]
    plant_name: str = ""
    start_at: int = 1
    offset_right_mm: float = 0.0
    offset_down_mm: float = 0.0
