"""`manage.py import_molds` and `import_rules`: what they print, write, and leave with."""

import json
import re
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from moldcare.care.models import CareRule, Completion
from moldcare.feeds.models import ImportBatch
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

REGISTER = "Mold;Name;Cavities\n0417;housing;4\n0418;cap;8\n"
SHEET = "Mold;Task;Every (shots);Last done\n0417;Clean vents;15000;2026-11-02\n"


@pytest.fixture(autouse=True)
def plant(lead: Person) -> None:
    """The plant, and one person who may bring files in."""
    factories.plant()


def run(command: str, path: Path | str, *more: str) -> tuple[int, str, str]:
    """The exit code, and what was printed on both channels."""
    out, errors = StringIO(), StringIO()
    code = 0
    try:
        call_command(command, str(path), *more, stdout=out, stderr=errors)
    except SystemExit as left:
        code = int(left.code or 0)
    return code, out.getvalue(), errors.getvalue()


def objects(text: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in text.splitlines()]


@pytest.fixture
def register(tmp_path: Path) -> Path:
    path = tmp_path / "register.csv"
    path.write_text(REGISTER)
    return path


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "sheet.csv"
    path.write_text(SHEET)
    return path


def test_all_applied_leaves_with_0(register: Path, sheet: Path) -> None:
    code, out, _errors = run("import_molds", register)
    assert (code, out.splitlines()) == (
        0,
        ["2  accepted  0417", "3  accepted  0418", "2 rows: 2 accepted."],
    )
    code, out, _errors = run("import_rules", sheet)
    assert code == 0
    assert out.splitlines()[-1] == "1 row: 1 accepted."
    assert "  accepted  0417  Clean vents" in out.splitlines()[0]
    assert (Mold.objects.count(), CareRule.objects.count(), Completion.objects.count()) == (2, 1, 1)


def test_a_dry_run_says_the_same_and_writes_nothing(register: Path) -> None:
    code, out, _errors = run("import_molds", register, "--dry-run")
    assert code == 0
    assert out.splitlines()[-1] == "2 rows: 2 accepted. Nothing was written."
    assert not Mold.objects.exists()
    assert not ImportBatch.objects.exists()


def test_json_is_one_object_a_row(register: Path, sheet: Path) -> None:
    code, out, _errors = run("import_molds", register, "--format", "json")
    assert code == 0
    assert [(row["row"], row["verdict"], row["mold"]) for row in objects(out)] == [
        (2, "accepted", "0417"),
        (3, "accepted", "0418"),
    ]
    code, out, _errors = run("import_rules", sheet, "--format", "json", "--dry-run")
    assert [(row["mold"], row["task"]) for row in objects(out)] == [("0417", "Clean vents")]


def test_what_differs_is_left_unless_it_is_taken(register: Path) -> None:
    run("import_molds", register)
    register.write_text(REGISTER.replace("housing;4", "housing;8"))
    code, out, _errors = run("import_molds", register)
    assert code == 1
    assert "cavities: 4 here, 8 in the file" in out
    assert Mold.objects.get(number="0417").cavity_count == 4
    code, out, _errors = run("import_molds", register, "--take-changes")
    assert code == 0
    assert Mold.objects.get(number="0417").cavity_count == 8


def test_another_interval_asks_for_a_reason_on_the_command_line(
    register: Path, sheet: Path
) -> None:
    run("import_molds", register)
    run("import_rules", sheet)
    sheet.write_text(SHEET.replace("15000", "12000"))
    with pytest.raises(CommandError, match="Say why intervals"):
        run("import_rules", sheet, "--take-changes")
    assert CareRule.objects.get().count_base == 15_000
    code, _out, _errors = run("import_rules", sheet, "--take-changes", "--reason", "They foul.")
    assert (code, CareRule.objects.get().count_base) == (0, 12_000)


def test_rows_that_were_not_applied_leave_with_1(sheet: Path) -> None:
    code, out, _errors = run("import_rules", sheet)
    assert code == 1
    assert "not_ours  0417  Clean vents" in out


def test_a_mold_is_assigned_and_a_column_named_on_the_command_line(
    register: Path, sheet: Path
) -> None:
    run("import_molds", register)
    sheet.write_text(SHEET.replace("0417;", "WZ 7;").replace("Task", "Kennwort"))
    code, _out, _errors = run(
        "import_rules", sheet, "--answer", "is:mold:WZ 7=0417", "--column", "Kennwort=task"
    )
    assert code == 0
    assert CareRule.objects.get().name == "Clean vents"


@pytest.mark.parametrize("command", ["import_molds", "import_rules"])
def test_what_is_no_table_is_said_in_a_sentence(command: str, tmp_path: Path) -> None:
    picture = tmp_path / "register.csv"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + b"0" * 100)
    with pytest.raises(CommandError, match="picture"):
        run(command, picture)
    with pytest.raises(CommandError, match="cannot be read"):
        run(command, tmp_path / "none.csv")
    with pytest.raises(CommandError, match="KEY=VALUE"):
        run(command, picture, "--answer", "nothing")
    with pytest.raises(CommandError, match="badge"):
        run(command, picture, "--as", "0000")
    assert not ImportBatch.objects.exists()


def test_who_brings_it_in_is_asked_where_several_may(register: Path) -> None:
    factories.person(role="manager")
    code, _out, errors = run("import_molds", register)
    assert (code, Mold.objects.count()) == (2, 0)
    assert "--as BADGE" in errors


def test_every_question_is_printed_with_what_answers_it(tmp_path: Path) -> None:
    path = tmp_path / "register.csv"
    path.write_text(
        "Mold;Half;Weight;Shots;As of\n0417;fixed;420.000;184.000;03/2024\n;moving;515;;\n"
        "W-0417;;;;\n"
    )
    code, _out, errors = run("import_molds", path)
    assert (code, Mold.objects.count()) == (2, 0)
    said = re.findall(r'Answer with .*?--answer "([^"]+)=', errors)
    assert {*said} >= {"mold_above", "days_of_spans", "unit:weight", "numbers:masses", "same:0417"}
    asked = [line for line in errors.splitlines() if not line.startswith("A question is open")]
    assert all("Answer with " in line for line in asked)
    answers = [
        *("mold_above=yes", "days_of_spans=last", "numbers:masses=decimal", "same:0417=same"),
        "numbers:shots=thousands",
    ]
    options = [part for each in answers for part in ("--answer", each)]
    code, out, errors = run("import_molds", path, *options)
    assert "open" not in errors, errors
    mold = Mold.objects.get()
    assert (mold.mass_a_kg, mold.mass_b_kg) == (420, 515)
    assert mold.opening_count == 184_000
    assert code in (0, 1), out
