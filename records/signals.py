"""`logged` is sent after an entry is committed, with the entry and the clinic whose ledger it is in, or None."""

from django.dispatch import Signal

logged = Signal()
