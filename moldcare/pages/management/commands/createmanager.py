"""`manage.py createmanager`: the first manager of an empty database."""

import getpass
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from moldcare.acts.people import make_manager
from moldcare.core.errors import DomainError
from moldcare.pages.management.plant_command import PlantCommand


class Command(PlantCommand):
    """Make the first manager, without whom nobody could sign in."""

    help = "Make the first manager of an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("name")
        parser.add_argument(
            "--password-stdin", action="store_true", help="read the password from standard input"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["password_stdin"]:
            import sys

            password = sys.stdin.readline().rstrip("\n")
        else:
            password = getpass.getpass("Password: ")
        try:
            make_manager(
                username=options["username"],
                name=options["name"],
                password=password,
                now=timezone.now(),
            )
        except DomainError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{options['name']} may sign in as {options['username']}.")
