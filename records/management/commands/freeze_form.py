"""Freeze what is hashed of entries and facts as the next form of the ledger, after a column was added or widened."""

import json

from django.core.management.base import BaseCommand

from records.ledger import canon


class Command(BaseCommand):
    help = __doc__

    def handle(self, *args, **options):
        fields = canon.current_form()
        numbers = [int(p.stem.removeprefix("form_")) for p in canon.HERE.glob("form_*.json")]
        newest = max(numbers, default=0)
        if newest and canon.form_of(newest) == fields:
            self.stdout.write(f"Form {newest} already lists every field.")
            return
        path = canon.HERE / f"form_{newest + 1}.json"
        path.write_text(json.dumps(fields, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        self.stdout.write(f"Wrote form {newest + 1} to {path.name}.")
