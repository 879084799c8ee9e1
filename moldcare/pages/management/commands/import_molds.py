"""Bring in a mold register from a file: `manage.py import_molds FILE`."""

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.opening import MOLDS
from moldcare.pages.management.register_command import RegisterCommand


class Command(RegisterCommand):
    """Read a register, add the molds that are new, say what became of every row."""

    help = (
        "Bring in a mold register from a CSV or XLSX file. Exit code 0: every row was applied, "
        "skipped or here already; 1: some rows were not applied; 2: a question must be answered "
        "first, and nothing was written."
    )
    kind = ImportBatch.Kind.MOLDS
    meanings = f"{', '.join(MOLDS.meanings)}."
