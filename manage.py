#!/usr/bin/env python3
"""Run a command of moldcare."""

import os
import sys


def main() -> None:
    """Hand the command line to Django with moldcare's settings."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "moldcare.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
