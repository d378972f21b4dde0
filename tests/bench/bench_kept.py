"""Which form the facts of a clinic are kept in: reading them back against asking the database, and against JSON.

STANDING_DATA=somewhere python manage.py demo --no-serve
STANDING_DATA=somewhere python -m tests.bench.bench_kept [--runs 5]
"""

from __future__ import annotations

import argparse
import json
import os
import zlib

import django

from tests.bench import histories
from tests.bench.bench_clinic import measured


def _line(name: str, facts, runs: int, gather=None) -> str:
    from audit.exchange.codec import from_json, to_json
    from audit.facts import ClinicFacts
    from audit.gather.packing import packed, unpacked

    kept, text = packed(facts), zlib.compress(json.dumps(to_json(facts)).encode(), 1)
    took = {
        "keep": measured(runs, lambda: packed(facts)),
        "read back": measured(runs, lambda: unpacked(kept)),
        "the open format read back": measured(1, lambda: from_json(ClinicFacts, json.loads(zlib.decompress(text)))),
    }
    if gather:
        took["gather"] = measured(runs, gather)
    said = ", ".join(f"{what} {seconds * 1000:.1f} ms" for what, seconds in took.items())
    return f"{name}: {len(kept) // 1024} KiB kept, {len(text) // 1024} KiB in the open format; {said}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    django.setup()
    from audit.gather.read import clinic_facts
    from records.models import Clinic

    for clinic in Clinic.objects.order_by("slug"):
        print(_line(clinic.slug, clinic_facts(clinic), runs, lambda clinic=clinic: clinic_facts(clinic)))
    long = histories.clinic(histories.unit(years=20, visits=40, loads=20_000, daily=True))
    print(_line("20,000 loads (invented)", long, runs))


if __name__ == "__main__":
    main()
