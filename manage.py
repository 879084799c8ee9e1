#!/usr/bin/env python3
"""Run a command of moldcare."""

import os
import sys


def main() -> None:
    """Hand the command line to Django with moldcare's settings."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "moldcare.settings")
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
        sys.stdout.flush()
    except BrokenPipeError:
        # whoever read the output (`manage.py due | head`) has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)


if __name__ == "__main__":
    main()
