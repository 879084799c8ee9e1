"""Prints labels to pictures and reads their codes with a reader of another make."""

import subprocess
from pathlib import Path

import zxingcpp
from PIL import Image, ImageFilter

from moldcare.paper.frame import Paper


def pictures(paper: Paper, *, folder: Path, dots_per_inch: int) -> list[Image.Image]:
    """Rasterise all pages as a printer of this many dots an inch would."""
    file = folder / "labels.pdf"
    file.write_bytes(paper.content)
    start = folder / f"page-{dots_per_inch}"
    subprocess.run(
        ["pdftoppm", "-gray", "-r", str(dots_per_inch), str(file), str(start)], check=True
    )
    found = []
    for path in sorted(folder.glob(f"{start.name}-*.pgm")):
        with Image.open(path) as picture:
            found.append(picture.copy())
    return found


def codes(picture: Image.Image) -> set[tuple[str, str]]:
    """Read all codes of a picture: their kind and their text."""
    return {(each.format.name, each.text) for each in zxingcpp.read_barcodes(picture)}


def as_seen(picture: Image.Image) -> Image.Image:
    """Turn and blur a picture a little, as a hand holds a camera."""
    turned = picture.rotate(2.5, resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255)
    return turned.filter(ImageFilter.GaussianBlur(radius=0.7))
