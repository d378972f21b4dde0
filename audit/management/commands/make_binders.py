"""Make the binders that were asked for on the pages, look through the tables that were brought in, and write the
files with everything of a clinic: take them off the queue, until it is empty or for ever.

A worker that is ended in the middle loses nothing: the next one begins that binder again.
"""

from __future__ import annotations

import os
import subprocess

from audit.issue.jobs import queue, workers
from audit.management import options as o
from audit.models import BinderJob, BroughtTable, RecordOut
from records import clock


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--once", action="store_true", help="end when nothing waits any more")
        parser.add_argument("--processes", type=int, default=1, help="how many at the same time (1)")
        parser.add_argument("--stand-at", help="the moment to live from, with its UTC offset; only for the demo")

    def handle(self, *args, **options):
        try:
            moment = o.parse_moment(options["stand_at"], "--stand-at")
            if not 1 <= options["processes"] <= 64:
                raise o.BadInput("--processes: choose a number from 1 to 64, at most one for each core.")
        except o.BadInput as error:
            o.refuse(self, error)
        before = clock.stands()
        if moment:
            clock.stand_at(moment)
        try:
            others = self._others(options)
            told = {"told": self._say, "told_table": self._say_table, "told_out": self._say_out}
            ended = workers.work_off(once=options["once"], **told)
            for process in others:
                process.wait()
        except KeyboardInterrupt:
            self.stdout.write("Stopped. A binder that was being made is begun again by the next worker.")
            return
        finally:
            if moment:
                clock.stand_at(before)
        tables, outs = self._tables, self._outs
        binders = ended - tables - outs
        said = f"{binders} binder{'' if binders == 1 else 's'}"
        said += f" and {tables} table{'' if tables == 1 else 's'}" if tables else ""
        said += f" and {outs} file{'' if outs == 1 else 's'} with everything of a clinic" if outs else ""
        self.stdout.write(f"{said} taken off the queue; nothing waits any more.")

    def _others(self, options) -> list[subprocess.Popen]:
        """Processes beside this one: as many as asked for, but with `--once` no more than there is work."""
        wanted = options["processes"] - 1
        if options["once"]:
            wanted = min(wanted, queue.waiting() - 1)
        words = workers.command(once=options["once"])
        return [subprocess.Popen(words, env=os.environ) for _ in range(wanted)]

    _tables = _outs = 0

    def _say_out(self, out: RecordOut) -> None:
        self._outs += 1
        said = f"{out.clinic.slug}, everything: {out.get_state_display()}"
        self.stdout.write(f"{said}; {out.problem}" if out.problem else said)

    def _say_table(self, table: BroughtTable) -> None:
        self._tables += 1
        self.stdout.write(f"{table.clinic.slug} {table.filename}: {table.get_state_display()}")

    def _say(self, job: BinderJob) -> None:
        unsaid = job.state == BinderJob.State.DONE and not job.issue_ref and not job.draft
        what = "draft " if job.draft else ""
        state = "made, not issued" if unsaid else job.said
        said = f"{job.clinic.slug} {job.from_on} to {job.to_on}: {what}{state}"
        self.stdout.write(f"{said}; {job.problem}" if job.problem else said)
        self.stdout.flush()
