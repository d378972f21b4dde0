"""What a load costs in a clinic of so many entries: to write it, and to have the clinic's facts and answers again.

STANDING_DATA=somewhere python manage.py demo --no-serve
STANDING_DATA=somewhere python -m tests.bench.bench_logged [--entries 9000] [--runs 9] [--clinic SLUG]

Loads are logged into that database until the clinic has so many entries. Processor time, medians; "all read" is the
same after an entry that makes every table be read, which is what each entry did before.
"""

from __future__ import annotations

import argparse
import os
import statistics
import time
import uuid

import django


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--entries", type=int, default=9000)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--clinic", default="wobblestone")
    given = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    django.setup()
    from audit.gather.kept_facts import kept_facts
    from audit.gather.read import clinic_facts
    from audit.judge.evaluate import evaluate
    from records import clock, log
    from records.log.errors import Refused
    from records.models import Account, Clinic, Entry, Load, Membership

    clinic = Clinic.objects.get(slug=given.clinic)
    last = Load.objects.filter(clinic=clinic).latest("pk")
    unit, cycle = last.unit, int(last.cycle_number)
    newest = Entry.objects.filter(ledger__organisation=clinic).latest("number")
    coordinators = Membership.objects.filter(organisation=clinic, role="coordinator").values("person")
    by = Account.objects.filter(person__in=coordinators).first()
    number = newest.number

    def logged() -> None:
        nonlocal number, cycle
        number, cycle, asked = number + 1, cycle + 1, ()
        fields = {"program": "wrapped", "mechanical": "pass", "chemical": "pass", "on": newest.logged_at.date()}
        while True:
            key = uuid.uuid4()
            try:
                log.log_load(
                    by=by, request_key=key, clinic=clinic, unit=unit, cycle_number=str(cycle), confirmed=asked,
                    **fields,
                )  # fmt: skip
                return
            except Refused as refused:  # what is only asked about is so
                asked = [problem.confirm for problem in refused.problems]
                if not all(asked):
                    raise

    def took(work) -> float:
        begin = time.process_time()
        work()
        return (time.process_time() - begin) * 1000

    with clock.at(newest.logged_at):
        while number < given.entries:
            logged()
        kept_facts(clinic)
        day, rows = newest.logged_at.date(), []
        for _ in range(given.runs):
            write = took(logged)
            rows.append(
                (
                    write,
                    took(lambda: kept_facts(clinic)),
                    took(lambda: kept_facts(clinic)),
                    took(lambda: clinic_facts(clinic)),
                    took(lambda: evaluate(kept_facts(clinic), day, brief=True)),
                )
            )
    names = ("write", "facts after it", "facts once more", "facts, all read", "facts and answers")
    medians = [statistics.median(column) for column in zip(*rows, strict=True)]
    said = ", ".join(f"{name} {took:.0f} ms" for name, took in zip(names, medians, strict=True))
    print(f"{clinic.slug}, {number} entries: {said}")


if __name__ == "__main__":
    main()
