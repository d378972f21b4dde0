#!/usr/bin/env python
"""Command line of the project. Settings live in audit/site/settings.py."""

import os
import sys


def main() -> None:
    os.umask(0o077)  # the record is for nobody but the account that runs the program
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except BrokenPipeError:
        # Whoever read our output has gone (`| head`): nothing to say, and nobody to say it to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(141)


if __name__ == "__main__":
    main()
