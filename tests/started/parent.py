"""The process that has imported the program and is copied: `python -m tests.started.parent SOCKET`.

It takes orders over the socket, and says there which number the copy has and how it ended. It runs nothing itself and
opens no database. When its standard input ends it kills what is left of its copies, removes the folder of the socket
and goes.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import json
import os
import pkgutil
import runpy
import selectors
import shutil
import signal
import socket
import struct
import sys
import threading
import time
import traceback
from pathlib import Path

# Imported by functions of the program or of Django when they are called, so not found by importing all of it.
BESIDES = (
    "django.core.management.commands.migrate", "django.core.management.commands.check",
    "django.core.management.commands.runserver", "django.contrib.staticfiles.management.commands.runserver",
    "django.core.management.commands.shell", "django.core.servers.basehttp", "django.core.wsgi",
    "django.db.backends.sqlite3.base", "django.db.backends.postgresql.base", "django.db.migrations.executor",
    "django.db.migrations.autodetector", "django.template.loader", "django.template.defaulttags",
    "django.template.loader_tags", "django.contrib.staticfiles.storage", "whitenoise.middleware",
    "whitenoise.storage", "waitress", "waitress.server", "argon2", "tests.world", "bidi",
    "arabic_reshaper", "holidays.countries", "segno", "PIL.Image", "PIL.ImageOps", "pikepdf.pdfa",
    "reportlab.pdfbase.ttfonts", "reportlab.pdfgen.canvas", "cryptography.x509",
    "cryptography.hazmat.primitives.serialization.pkcs12",
    "asn1crypto.tsp", "asn1crypto.pkcs12", "pyhanko.sign.signers.pdf_cms", "pyhanko.sign.fields",
    "pyhanko.sign.timestamps", "pyhanko.sign.validation.generic_cms", "pyhanko.pdf_utils.incremental_writer",
    "pyhanko_certvalidator.registry",
)  # fmt: skip
SHORT = 63  # characters: a table's name of that length is the same on every database
# Modules that do something as they are imported.
DO_WHEN_IMPORTED = {"__main__", "wsgi", "asgi"}


def imported() -> None:
    """All of the program, and what it needs, with the settings of nobody."""
    import django

    os.environ["DJANGO_SETTINGS_MODULE"] = "audit.site.settings"
    django.setup()
    import audit
    import records

    for app in (records, audit):
        for found in pkgutil.walk_packages(app.__path__, f"{app.__name__}."):
            if found.name.rpartition(".")[2] not in DO_WHEN_IMPORTED:
                importlib.import_module(found.name)
    for name in BESIDES:
        importlib.import_module(name)
    _read_once()


def _read_once() -> None:
    """What the program reads of its own files the first time it is asked."""
    from audit.binder.pdf import faces
    from audit.regimes import load

    list(load.all_regimes().values())
    for name in (faces.REGULAR, faces.BOLD):
        faces.loaded(name)


def forgotten() -> None:
    """The settings are read anew, from the environment as it is then, by whoever asks for one first.

    Of the database nothing was asked yet but how long the name of a table may be.
    """
    from django import conf
    from django.apps import apps
    from django.db import connections

    assert all(len(model._meta.db_table) <= SHORT for model in apps.get_models(include_auto_created=True))
    for name in connections:
        assert connections[name].connection is None
        del connections[name]
    del connections.settings
    connections._settings = None
    del os.environ["DJANGO_SETTINGS_MODULE"]
    conf.settings._wrapped = conf.empty
    site = sys.modules["audit.site"]
    del sys.modules["audit.site.settings"], site.settings


class Parent:
    """Copies by their process numbers, with the line of whoever asked for each."""

    def __init__(self, there: str) -> None:
        self.there = there
        self.listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.listener.bind(there)
        self.listener.listen(64)
        self.heard, self.told = os.pipe()
        os.set_blocking(self.heard, False)
        os.set_blocking(self.told, False)
        signal.signal(signal.SIGCHLD, lambda *_: None)
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.set_wakeup_fd(self.told, warn_on_full_buffer=False)
        self.lines: dict[int, socket.socket] = {}
        self.select = selectors.DefaultSelector()
        for file, what in ((self.listener, self.order), (self.heard, self.ended), (0, self.over)):
            self.select.register(file, selectors.EVENT_READ, what)

    def serve(self) -> None:
        while True:
            for key, _ in self.select.select():
                key.data()

    def order(self) -> None:
        line, _ = self.listener.accept()
        size, files, _, _ = socket.recv_fds(line, 4, 3)
        left, order = struct.unpack("!I", size)[0], b""
        while len(order) < left:
            order += line.recv(left - len(order))
        asked = json.loads(order)
        pid = os.fork()
        if pid == 0:
            self._let_go()
            line.close()
            become(asked, files)
        for file in files:
            os.close(file)
        self.lines[pid] = line
        line.sendall(json.dumps({"pid": pid}).encode() + b"\n")
        if asked.get("with"):
            self.select.register(line, selectors.EVENT_READ, lambda: self.killed(pid))

    def _let_go(self) -> None:
        signal.set_wakeup_fd(-1)
        for number in (signal.SIGCHLD, signal.SIGTERM):
            signal.signal(number, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        self.select.close()
        self.listener.close()
        os.close(self.heard)
        os.close(self.told)
        for line in self.lines.values():
            line.close()

    def killed(self, pid: int) -> None:
        """Whoever stood for it is gone."""
        self.select.unregister(self.lines[pid])
        os.kill(pid, signal.SIGKILL)

    def ended(self) -> None:
        while os.read(self.heard, 512) == b"\0" * 512:
            pass
        while self.lines:
            pid, status = os.waitpid(-1, os.WNOHANG)
            if not pid:
                return
            line = self.lines.pop(pid)
            try:
                self.select.unregister(line)
            except KeyError:
                pass
            try:
                line.sendall(json.dumps({"status": os.waitstatus_to_exitcode(status)}).encode() + b"\n")
            except OSError:
                pass  # nobody asks any more
            line.close()

    def over(self) -> None:
        if os.read(0, 1) == b"":
            for pid in self.lines:
                os.kill(pid, signal.SIGKILL)
            shutil.rmtree(Path(self.there).parent, ignore_errors=True)
            os._exit(0)


# --------------------------------------------------------------------------------------------------- in the copy


def become(asked: dict, files: list[int]) -> None:
    """Be what was asked for, as if `python` had just started with these arguments. Never returns."""
    status = 1
    try:
        for number, file in enumerate(files):
            os.dup2(file, number)
            os.close(file)
        os.environ.clear()
        os.environ.update(asked["env"])
        time.tzset()
        os.umask(asked["umask"])
        os.chdir(asked["cwd"])
        _standard_files(asked["env"].get("PYTHONIOENCODING", "utf-8").partition(":")[0])
        status = _status_of(asked["argv"])
    finally:
        _end(status)


def _standard_files(encoding: str) -> None:
    sys.stdin = sys.__stdin__ = open(0, encoding=encoding, closefd=False)
    sys.stdout = sys.__stdout__ = open(1, "w", encoding=encoding, closefd=False)
    sys.stderr = sys.__stderr__ = open(
        2, "w", encoding=encoding, errors="backslashreplace", closefd=False, buffering=1
    )


def _status_of(argv: list[str]) -> int:
    """Run it; the exit status as the interpreter would give it."""
    try:
        if argv[0] == "-c":
            sys.argv = ["-c", *argv[2:]]
            main = type(sys)("__main__")
            sys.modules["__main__"] = main
            exec(compile(argv[1], "<string>", "exec"), main.__dict__)
        elif argv[0] == "-m":
            sys.argv = argv[1:]
            runpy.run_module(argv[1], run_name="__main__", alter_sys=True)
        else:
            sys.argv = argv
            runpy.run_path(argv[0], run_name="__main__")
    except SystemExit as end:
        if end.code is None or isinstance(end.code, int):
            return (end.code or 0) & 0xFF
        print(end.code, file=sys.stderr)
        return 1
    except BaseException:
        traceback.print_exc()
        return 1
    return 0


def _end(status: int) -> None:
    try:
        threading._shutdown()  # waits for threads as the interpreter does before it ends
        atexit._run_exitfuncs()
        sys.stdout.flush()
        sys.stderr.flush()
    finally:
        os._exit(status)


if __name__ == "__main__":
    imported()
    forgotten()
    assert threading.active_count() == 1, "a copy has the one thread that asked for it"
    gc.collect()
    gc.freeze()
    parent = Parent(sys.argv[1])
    os.write(1, b"ready\n")
    parent.serve()
