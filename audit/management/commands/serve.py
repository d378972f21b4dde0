"""Serve the pages with the worker that makes binders, and a backup every day: one command for one machine.

Where neither STANDING_DEBUG nor STANDING_SECRET_KEY is set, the pages open on this machine alone, and a key is made
and kept in the data folder. With the settings of a server (audit/site/operating.md) a proxy that ends HTTPS stands
before it. End it with Ctrl-C or SIGTERM.

Exit status: 0 ended as told, 2 bad input or something to be done first, 3 a fault.
"""

from __future__ import annotations

import ipaddress
import signal
from pathlib import Path

from django.conf import settings

from audit.management import options as o
from audit.upkeep import serving


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--bind", default="127.0.0.1", help="address to listen on (127.0.0.1)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000); 0 for any that is free")
        parser.add_argument("--threads", type=int, default=8, help="how many requests are answered at once (8)")
        parser.add_argument(
            "--behind-proxy", action="store_true",
            help="a proxy on this machine ends HTTPS and sets X-Forwarded-Proto and X-Forwarded-For itself",
        )  # fmt: skip
        parser.add_argument("--no-worker", action="store_true", help="binders are made by make_binders elsewhere")
        parser.add_argument("--backup-to", type=Path, metavar="DIR", help="make a backup into this folder every day")

    def handle(self, *args, **options):
        # The worker is kept here; a page must not start another.
        settings.BINDER_WORKER = "none"
        signal.signal(signal.SIGTERM, _end)
        try:
            serving.serve(_wanted(options), self._say)
        except (o.BadInput, serving.CannotServe) as error:
            o.refuse(self, error)
        except OSError as error:
            where = f"{options['bind']}:{options['port']}"
            o.refuse(self, o.BadInput(f"{where} cannot be listened on: {error.strerror}. Name another --port."))
        except KeyboardInterrupt:
            pass
        self.stdout.write("Stopped.")
        o.end(self, 0)

    def _say(self, address: str) -> None:
        self.stdout.write(f"Serving {address} (end with Ctrl-C)")
        self.stdout.flush()


def _end(*_) -> None:
    raise KeyboardInterrupt


def _wanted(options) -> serving.Wanted:
    if settings.DEBUG:
        raise o.BadInput(
            "STANDING_DEBUG=1 shows whoever meets a fault how the program works. Leave it out, or set it to 0 with "
            "the other settings of a server."
        )
    try:
        here = ipaddress.ip_address(options["bind"])
    except ValueError:
        raise o.BadInput(f"--bind {options['bind']} is no address. Write one such as 127.0.0.1.") from None
    if not here.is_loopback and not settings.SECURE_SSL_REDIRECT:
        raise o.BadInput(
            f"--bind {here} would let other machines sign in over plain HTTP, where anybody between reads the pass "
            "phrase. Leave it out, and put a proxy that ends HTTPS before it (--behind-proxy)."
        )
    if not 0 <= options["port"] <= 65535 or not 1 <= options["threads"] <= 64:
        raise o.BadInput("--port is a number from 0 to 65535, --threads one from 1 to 64.")
    return serving.Wanted(
        host=options["bind"], port=options["port"], threads=options["threads"],
        behind_proxy=options["behind_proxy"], worker=not options["no_worker"], backup_to=options["backup_to"],
    )  # fmt: skip
