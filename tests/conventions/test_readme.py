"""The two documents say what is true: commands, settings, and where things are."""

import re

from tests.conventions.source import PACKAGE, ROOT

README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def test_the_job_comes_first_then_the_two_commands() -> None:
    title, job, see, demo, run, tests, *_ = README.split("\n\n")
    assert title == "# moldcare"
    assert "\n" not in job
    assert not job.startswith(("#", "```", "!"))
    assert see.endswith(":")
    assert run.endswith(":")
    for block, last in ((demo, "manage.py demo"), (tests, "-m tests")):
        first, command, end = block.split("\n")
        assert (first, end) == ("```sh", "```")
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install -r ")
        assert command.endswith(last)


def test_every_setting_is_in_the_list_and_no_other() -> None:
    asked = set(re.findall(r"env\.\w+\(\s*\"(\w+)\"", (PACKAGE / "settings.py").read_text()))
    assert asked
    assert set(re.findall(r"^\| `(\w+)` \|", README, re.M)) == asked


def test_every_file_that_the_documents_name_is_there() -> None:
    for text in (README, DEVELOPERS):
        for name in re.findall(r"`((?:tests|moldcare|templates|\.ci)/[\w./]+)`", text):
            assert (ROOT / name).exists(), name


def test_every_picture_is_there() -> None:
    for name in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README + DEVELOPERS):
        assert (ROOT / name).exists(), name


def test_every_package_is_on_a_floor() -> None:
    section = DEVELOPERS.split("\n## Floors\n")[1].split("\n## ")[0]
    for path in PACKAGE.glob("*/__init__.py"):
        assert f"`{path.parent.name}`" in section, path.parent.name


def test_every_command_that_the_readme_names_is_one() -> None:
    from django.core.management import get_commands

    for name in re.findall(r"manage\.py (\w+)", README + DEVELOPERS):
        assert name in get_commands(), name
