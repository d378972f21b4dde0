"""How long it takes to gather a clinic's facts and to judge them, on the demo's database.

STANDING_DATA=somewhere python manage.py demo --no-serve
STANDING_DATA=somewhere python -m tests.bench.bench_clinic [--runs 9]
"""

from __future__ import annotations

import argparse
import os
import statistics
import time

import django


def measured(runs: int, work) -> float:
    """Median seconds of so many runs, after one that warms up."""
    work()
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=9)
    runs = parser.parse_args().runs
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    django.setup()
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from audit.gather.read import clinic_facts
    from audit.judge.evaluate import evaluate
    from records.models import Clinic, Entry

    for clinic in Clinic.objects.order_by("slug"):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            facts = clinic_facts(clinic)
        day = max(e.happened_on for u in facts.units for e in (t.row for t in u.bio_tests))
        entries = Entry.objects.filter(ledger__organisation=clinic).count()
        gather = measured(runs, lambda clinic=clinic: clinic_facts(clinic))
        judge = measured(runs, lambda facts=facts, day=day: evaluate(facts, day))
        print(
            f"{clinic.slug}: {len(facts.units)} units, {entries} entries: gather {gather * 1000:.0f} ms in "
            f"{len(queries)} queries, evaluate {judge * 1000:.0f} ms (medians of {runs})"
        )


if __name__ == "__main__":
    main()
