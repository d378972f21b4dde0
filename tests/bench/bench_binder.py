"""Pages and seconds of the largest binder on the demo's database: contents and pages, without the judging.

STANDING_DATA=somewhere python manage.py demo --no-serve
STANDING_DATA=somewhere python -m tests.bench.bench_binder [--runs 5] [--days 548]
"""

from __future__ import annotations

import argparse
import os
from datetime import timedelta

import django

from tests.bench.bench_clinic import measured


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--days", type=int, default=548, help="length of the period up to the last entry")
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    django.setup()
    from audit.binder.contents import binder_contents
    from audit.binder.pdf import lay_out, render
    from audit.binder.pdf.page import sheet
    from audit.evaluate import evaluate
    from audit.gather import clinic_facts, day_at
    from records.models import Clinic, Entry

    last = Entry.objects.order_by("number").last()
    if last is None:
        raise SystemExit("No entry on record. Load the demo first: manage.py demo --no-serve")
    largest = None
    for clinic in Clinic.objects.all():
        facts = clinic_facts(clinic)
        to_on = day_at(facts, last.logged_at)
        judgement = evaluate(facts, to_on)
        period = {"from_on": to_on - timedelta(days=asked.days - 1), "to_on": to_on}
        pages = len(lay_out(binder_contents(facts, judgement, **period), sheet("letter")))
        if largest is None or pages > largest[0]:
            largest = (pages, clinic.slug, facts, judgement, period)
    pages, slug, facts, judgement, period = largest
    seconds = measured(asked.runs, lambda: render(binder_contents(facts, judgement, **period)))
    print(f"{slug}: {pages} pages, {seconds:.2f} seconds (median of {asked.runs} runs, contents and pages)")


if __name__ == "__main__":
    main()
