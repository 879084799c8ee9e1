"""A few made pictures that stand for photos: steel with residue, never a real place."""

import io
from random import Random

from PIL import Image, ImageDraw, ImageFilter

from moldcare.acts.doing import Doing
from moldcare.acts.files import add_file
from moldcare.demo.simulation import Simulation
from moldcare.files.models import File

MOST = 6


def photo_of(sim: Simulation, doing: Doing, rng: Random) -> File | None:
    """Return one of a handful of made pictures."""
    number = rng.randrange(MOST)
    sim.acts += 1
    kept = add_file(doing, content=picture(number), name=f"made picture {number + 1}.jpg")
    return File.objects.get(pk=kept.pk)


def picture(number: int) -> bytes:
    """Return a small JPEG: a brushed steel face with a cavity, a vent and some residue."""
    rng = Random(f"picture {number}")
    width, height = 640, 480
    face = Image.new("RGB", (width, height), (148, 150, 152))
    draw = ImageDraw.Draw(face)
    for y in range(0, height, 2):
        shade = rng.randrange(135, 165)
        draw.line([(0, y), (width, y)], fill=(shade, shade + 1, shade + 2))
    middle = (width // 2 + rng.randrange(-60, 60), height // 2 + rng.randrange(-40, 40))
    for radius, shade in ((150, 110), (138, 88), (120, 96)):
        box = [middle[0] - radius, middle[1] - radius, middle[0] + radius, middle[1] + radius]
        draw.ellipse(box, fill=(shade, shade + 2, shade + 4))
    draw.rectangle([middle[0] + 148, middle[1] - 14, width, middle[1] + 14], fill=(120, 121, 122))
    for _ in range(40 + 30 * number):
        x, y = middle[0] + rng.randrange(110, 240), middle[1] + rng.randrange(-40, 40)
        size = rng.randrange(2, 9)
        draw.ellipse([x, y, x + size, y + size], fill=(96, 70, 42))
    out = io.BytesIO()
    face.filter(ImageFilter.GaussianBlur(1.2)).save(out, "JPEG", quality=80)
    return out.getvalue()
