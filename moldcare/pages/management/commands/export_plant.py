"""`manage.py export_plant`: the whole plant as one archive of open formats."""

import tempfile
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.feeds.archive import Written, write_archive
from moldcare.pages.management.plant_command import PlantCommand


class Command(PlantCommand):
    """Write the archive beside its place, then put it there: no half file bears its name."""

    help = (
        "Write the whole plant into one ZIP of CSV, JSON and photos. Passwords, PINs and tokens "
        "are not in it. manage.py import_plant reads it into an empty database."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--out", required=True, metavar="FILE", help="the archive to write")

    def handle(self, *args: Any, **options: Any) -> None:
        place = Path(options["out"])
        try:
            written = self._write(place)
        except OSError as error:
            raise CommandError(
                _("%(file)s cannot be written: %(why)s.")
                % {"file": place, "why": error.strerror or error}
            ) from error
        for sha256, why in written.lost.items():
            self.stderr.write(
                (_("File %(sha256)s is missing in the store and not in the archive."))
                % {"sha256": sha256}
                if why == "missing"
                else _("File %(sha256)s was changed in the store and is not in the archive.")
                % {"sha256": sha256}
            )
        self.stdout.write(
            _("%(file)s: %(rows)d rows of %(tables)d tables, %(files)s.")
            % {
                "file": place,
                "rows": written.rows,
                "tables": written.tables,
                "files": ngettext(
                    "%(n)d photo or document", "%(n)d photos or documents", written.files
                )
                % {"n": written.files},
            }
        )

    def _write(self, place: Path) -> Written:
        with tempfile.NamedTemporaryFile(
            dir=place.parent, prefix=f".{place.name}-", delete=False
        ) as part:
            try:
                written = write_archive(part, made_at=timezone.now())
                part.close()
                Path(part.name).replace(place)
            except BaseException:
                Path(part.name).unlink(missing_ok=True)
                raise
        return written
