"""`manage.py import_plant`: an archive of a plant into an empty database."""

import getpass
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.people import set_password
from moldcare.core.errors import DomainError
from moldcare.feeds.archive import ArchiveRefused, ReadIn, read_archive
from moldcare.pages.management.plant_command import PlantCommand
from moldcare.plant.models import Person


class Command(PlantCommand):
    """Read the archive in as a whole or not at all, and say who can sign in."""

    help = (
        "Read an archive that export_plant wrote into an empty database, derive what follows, "
        "verify the logbook. People come without passwords and PINs: name a manager to set the "
        "first password."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the archive")
        parser.add_argument(
            "--manager", metavar="USERNAME", help="a manager in it, who gets a password now"
        )
        parser.add_argument(
            "--password-stdin", action="store_true", help="read the password from standard input"
        )
        parser.add_argument(
            "--accept-broken-logbook",
            action="store_true",
            help="read it in though its logbook does not verify",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        manager = options["manager"]
        try:
            with Path(options["file"]).open("rb") as file:
                password = _password(from_stdin=options["password_stdin"]) if manager else ""
                found = read_archive(
                    file,
                    accepts_broken_logbook=options["accept_broken_logbook"],
                    at_the_end=(lambda: _let_in(manager, password=password)) if manager else None,
                )
        except OSError as error:
            raise CommandError(
                _("%(file)s cannot be read: %(why)s.")
                % {"file": options["file"], "why": error.strerror or error}
            ) from error
        except DomainError as error:
            raise CommandError(str(error)) from error
        self._say(found)
        self._say_who(manager)

    def _say(self, found: ReadIn) -> None:
        self.stdout.write(
            _(
                "%(plant)s as of %(at)s: %(rows)d rows and %(files)d photos or documents read in, "
                "%(derived)d derived rows written."
            )
            % {
                "plant": found.plant,
                "at": f"{found.made_at:%Y-%m-%d %H:%M} UTC",
                "rows": found.rows,
                "files": found.files,
                "derived": found.derived_rows,
            }
        )
        if found.new_tables or found.new_columns:
            self.stdout.write(
                _("The archive is of an older version. New since, and empty or as usual: %(w)s.")
                % {"w": ", ".join([*found.new_tables, *found.new_columns])}
            )
        if found.lost:
            self.stderr.write(
                _("%(n)d photos or documents were lost before the archive was made.")
                % {"n": found.lost}
            )
        if found.difference:
            self.stderr.write(
                _("The logbook is not whole: %(difference)s") % {"difference": found.difference}
            )
        else:
            self.stdout.write(_("The logbook is whole."))

    def _say_who(self, manager: str | None) -> None:
        self.stdout.write(
            _("Passwords, PINs and tokens of feeds are in no archive: each must be set again.")
        )
        if manager:
            self.stdout.write(_("%(name)s may sign in now.") % {"name": manager})
            return
        managers = Person.objects.filter(role=Person.Role.MANAGER, is_active=True)
        names = list(managers.order_by("username").values_list("username", flat=True))
        self.stdout.write(
            _("Nobody can sign in yet. Set a manager's password: %(how)s")
            % {"how": ", ".join(f"manage.py changepassword {name}" for name in names)}
            if names
            else _("There is no manager in it. Make one: manage.py createmanager USERNAME NAME")
        )


def _password(*, from_stdin: bool) -> str:
    return sys.stdin.readline().rstrip("\n") if from_stdin else getpass.getpass("Password: ")


def _let_in(username: str, *, password: str) -> None:
    """Set the first password of a manager who came with the archive."""
    person = Person.objects.filter(username=username).first()
    if person is None or person.role != Person.Role.MANAGER or not person.is_active:
        raise ArchiveRefused(
            _(
                "There is no manager with the sign-in name %(name)s in the archive who may sign "
                "in. Nothing was written."
            )
            % {"name": username}
        )
    set_password(Doing(person=person, now=timezone.now()), person=person, password=password)
