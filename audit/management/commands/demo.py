"""See it work: set up the database, load the invented demo, print standings, write a binder a clinic, serve."""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management import call_command

from audit.issue.seal import keys
from audit.management import options as o
from records import clock, demo
from records import models as m

STORY = Path(settings.BASE_DIR) / "fixtures" / "demo"
HOST = "127.0.0.1"
BINDER_DAYS = 548  # the last eighteen months


def _refuse_on_a_server() -> None:
    """Raises BadInput: everybody knows the pass phrase of the demo's people."""
    if settings.PRODUCTION:
        raise o.BadInput(
            "The demo has log-ins whose pass phrase everybody knows, so it is not for a server. Run it on your own "
            "machine, without STANDING_DEBUG=0 and with a STANDING_DATA of its own."
        )


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--no-serve", action="store_true", help="stop after the binders are written")
        parser.add_argument("--out", type=Path, help="folder of the binders; “demo” in the data folder if left out")
        parser.add_argument("--port", type=int, default=8000, help="port to serve on (8000)")

    def handle(self, *args, **options):
        try:
            _refuse_on_a_server()
            story = demo.read_story(STORY)
            if not options["no_serve"]:
                refuse_busy(options["port"])
            self._load(story)
        except (demo.ForeignData, demo.StoryError, o.BadInput) as error:
            o.refuse(self, error)
        clock.stand_at(story.now)
        try:
            self._show(story, options)
        finally:
            clock.stand_at(None)

    def _show(self, story, options) -> None:
        clinics = list(m.Clinic.objects.order_by("slug"))
        self._standings(clinics)
        self._key(story.now)
        with known_as(story.address):
            self._binders(clinics, options["out"] or Path(settings.DATA_DIR) / "demo")
        self._log_ins(story)
        if not options["no_serve"]:
            self._serve(options["port"])

    def _load(self, story) -> None:
        self.stdout.write("Setting up the database …")
        call_command("migrate", verbosity=0, interactive=False)
        if demo.state_of(story) == "loaded":
            self.stdout.write("The demo is loaded already; it is kept as it stands.")
            return
        self.stdout.write("Loading the demo. Everything in it is invented: makers, models, clinics and people.")
        started = time.monotonic()
        entries = demo.load(story, STORY, self.stdout.write)
        self.stdout.write(f"{entries} entries logged in {time.monotonic() - started:.1f} seconds.")

    def _standings(self, clinics) -> None:
        for clinic in clinics:
            _run("status", clinic.slug, stdout=self.stdout)

    def _key(self, now) -> None:
        """The key that signs binders, in the name of the invented company, unless there is one already."""
        if not (keys.folder() / keys.KEY_FILE).exists():
            keys.make_key(m.ServiceCompany.objects.order_by("pk").first().name, now)
            self.stdout.write("\nMade the key of this demo, which signs its binders.")

    def _binders(self, clinics, folder: Path) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            message = f"--out {folder}: {error.strerror}. Name a folder that you may write to."
            o.refuse(self, o.BadInput(message))
        self.stdout.write("\nBinders for the last eighteen months:")
        for clinic in clinics:
            today = clock.today(demo_zone(clinic))
            period = {
                "from_on": (today - timedelta(days=BINDER_DAYS)).isoformat(),
                "to_on": today.isoformat(),
            }
            file = folder / f"{clinic.slug}-{today}.pdf"
            _run("binder", clinic.slug, as_of=today.isoformat(), out=file, stdout=self.stdout, **period)

    def _log_ins(self, story) -> None:
        self.stdout.write(f"\nLog-ins of the demo, all with the passphrase “{story.password}”:")
        for account in story.accounts:
            self.stdout.write(f"  {account['username']:<9} {account['name']}, {account['role']}")
        self.stdout.write(
            "\nLocal codes, the maker's instructions and licensed practice outrank all that is said here."
        )

    def _serve(self, port: int) -> None:
        self.stdout.write(f"\nThe pages stand at the demo's day. Open http://{HOST}:{port}/ (end with Ctrl-C)\n")
        self.stdout.flush()
        try:
            with interrupts_heard():
                call_command("runserver", f"{HOST}:{port}", use_reloader=False, skip_checks=True)
        except KeyboardInterrupt:
            self.stdout.write("\nStopped.")


@contextmanager
def known_as(address: str) -> Iterator[None]:
    """Inside, binders name the address of the story: an inspector could not reach a machine called localhost.

    What is served afterwards keeps its own. An address that was set for this machine stays.
    """
    own = settings.SITE_ADDRESS
    settings.SITE_ADDRESS = address if urlsplit(own).hostname in ("localhost", HOST) else own
    try:
        yield
    finally:
        settings.SITE_ADDRESS = own


@contextmanager
def interrupts_heard(every: float = 1.0):
    """Ctrl-C ends what is done inside, also where the first one is swallowed: it is sent again until it is heard.

    What is raised while Python clears away an object is ignored, KeyboardInterrupt too. `every`: seconds between two.
    """
    heard, before = threading.Event(), signal.getsignal(signal.SIGINT)

    def again():
        while not heard.wait(every):
            os.kill(os.getpid(), signal.SIGINT)

    def interrupted(number, frame):
        signal.signal(signal.SIGINT, signal.default_int_handler)
        threading.Thread(target=again, daemon=True).start()
        raise KeyboardInterrupt

    signal.signal(signal.SIGINT, interrupted)
    try:
        yield
    finally:
        heard.set()
        signal.signal(signal.SIGINT, before)


def _run(command: str, *args, **options) -> None:
    """Run another command; that units are out of service is its news, not a fault of the demo.

    Raises SystemExit when the command ended with bad input or a fault.
    """
    try:
        call_command(command, *args, **options)
    except SystemExit as end:
        if end.code not in (None, 0, 1):
            raise


def demo_zone(clinic) -> str:
    """The time zone of the clinic's newest terms."""
    terms = m.ClinicTerms.objects.in_force().filter(clinic=clinic).order_by("-effective_on", "-id").first()
    return terms.time_zone if terms else "UTC"


def refuse_busy(port: int) -> None:
    """Raises BadInput when nothing can be served on the port."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except (OSError, OverflowError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise o.BadInput(
                f"Port {port} cannot be used: {reason}. Stop what is using it, or name another one, "
                f"such as --port {port + 1 if 0 < port < 65535 else 8001}."
            ) from None
