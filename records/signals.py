"""`logged` is sent after an entry is committed, with the entry and the units it touches (a set of Unit ids)."""

from django.dispatch import Signal

logged = Signal()
