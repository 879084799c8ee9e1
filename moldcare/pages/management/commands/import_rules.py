"""Bring in a maintenance sheet from a file: `manage.py import_rules FILE`."""

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.opening import CARE
from moldcare.pages.management.register_command import RegisterCommand


class Command(RegisterCommand):
    """Read a maintenance sheet, write the rules that are new, say what became of every row."""

    help = (
        "Bring in care rules, and when they were last done, from a CSV or XLSX file. Exit code 0: "
        "every row was applied, skipped or here already; 1: some rows were not applied; 2: a "
        "question must be answered first, and nothing was written."
    )
    kind = ImportBatch.Kind.RULES
    meanings = f"{', '.join(CARE.meanings)}."
