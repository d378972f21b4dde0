#!/usr/bin/env python
"""Command line of the project. Settings live in audit/site/settings.py."""

import os
import sys
from pathlib import Path

FAULT, BAD_INPUT = 3, 2


def main() -> None:
    os.umask(0o077)  # the record is for nobody but the account that runs the program
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    if sys.argv[1:2] == ["serve"]:
        _prepare_to_serve(sys.argv[2:])
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line, get_commands

    try:
        execute_from_command_line(sys.argv)
    except BrokenPipeError:
        # Whoever read our output has gone (`| head`): nothing to say, and nobody to say it to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(141)
    except ImproperlyConfigured as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(BAD_INPUT)
    except SystemExit as end:
        named = sys.argv[1] if len(sys.argv) > 1 else "help"
        unknown = not named.startswith("-") and named not in {"help", "version", *get_commands()}
        sys.exit(BAD_INPUT if unknown else end.code)
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as error:
        _say_fault(error)
        sys.exit(FAULT)


def _prepare_to_serve(words: list[str]) -> None:
    from audit.site import own_machine

    port = next((words[n + 1] for n, word in enumerate(words[:-1]) if word == "--port"), "8000")
    port = next((word.split("=", 1)[1] for word in words if word.startswith("--port=")), port)
    own_machine.prepare(os.environ, Path(__file__).resolve().parent / ".data", port)


def _say_fault(error: Exception) -> None:
    """Where the database is not there or not as the program wants it, what to do; else where the fault is."""
    import traceback

    from django.db import DatabaseError

    if isinstance(error, DatabaseError):
        said = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
        sys.stderr.write(f"The database cannot do it: {said}.\n")
        sys.stderr.write("`manage.py doctor` says what is wrong with it. Nothing is half recorded.\n")
    else:
        traceback.print_exception(error)
        sys.stderr.write("A fault of the program: show this to whoever looks after it. Nothing is half recorded.\n")


if __name__ == "__main__":
    main()
