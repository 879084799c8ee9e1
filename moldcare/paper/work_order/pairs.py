"""Sets what can be seen before and after the work, side by side."""

import io
from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, KeepTogether, Spacer

from moldcare.paper.blocks import Drawn, Grid
from moldcare.paper.photo import SmallPhoto
from moldcare.paper.styles import SMALL, STRONG, paragraph
from moldcare.paper.typefaces import Typesetter
from moldcare.paper.work_order.document import PicturePair, WorkOrderDocument

PICTURE_HEIGHT = 150.0


def picture_pairs(document: WorkOrderDocument, *, typesetter: Typesetter) -> Iterator[Flowable]:
    """Give each pair with its head; nothing where there is none."""
    for pair in document.pairs:
        yield KeepTogether(
            [
                paragraph(typesetter, pair.about, style=STRONG),
                Grid(
                    [
                        _cell(_("before"), pair=pair, is_before=True, typesetter=typesetter),
                        _cell(_("after"), pair=pair, is_before=False, typesetter=typesetter),
                    ],
                    columns=2,
                ),
                Spacer(0, 10),
            ]
        )


def _cell(
    word: str, *, pair: PicturePair, is_before: bool, typesetter: Typesetter
) -> list[Flowable]:
    note = pair.before_note if is_before else pair.after_note
    said = f"{word}: {note}" if note else word
    return [
        _picture(pair.before if is_before else pair.after),
        paragraph(typesetter, said, style=SMALL),
    ]


def _picture(photo: SmallPhoto) -> Flowable:
    def draw(canvas: Any, width: float) -> None:
        share = min(width / photo.width, PICTURE_HEIGHT / photo.height)
        picture = ImageReader(io.BytesIO(photo.jpeg))
        canvas.drawImage(picture, 0, 0, width=photo.width * share, height=photo.height * share)

    return Drawn(PICTURE_HEIGHT, draw)
