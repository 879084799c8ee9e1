"""The option by which commands that print codes learn where people reach the program."""

from argparse import ArgumentParser

from django.core.management.base import CommandError

from moldcare.pages.printing.server_address import AddressRefused, server_address


def add_address_option(parser: ArgumentParser, *, without: str = "") -> None:
    """Add `--address`; `without` says what a code holds where none is given."""
    parser.add_argument(
        "--address",
        default="",
        help=f"where people reach the program, for the code to scan: https://molds.example{without}",
    )


def address_given(text: str) -> str:
    """Return what `--address` was given, empty where it was not.

    Raises
    ------
    CommandError
        If no phone would open it.
    """
    try:
        return server_address(text) if text else ""
    except AddressRefused as refused:
        raise CommandError(f"{refused} Nothing was printed.") from refused
