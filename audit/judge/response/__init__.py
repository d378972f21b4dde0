"""The response to a failure: from withdrawal to return, replayed from facts, and said as cases.

`replay` walks the path of the rules (`walk`, with `causes`) over the results of one kind (`trials`), `in_a_row`
counts passes in a row, `recall` and `notices` say what is to be called back and who is to be told, and `steps` and
`cases` put it into values.
"""

from .cases import ERROR, REQUALIFY, RETEST, RETURNED, TITLES, cases_of, order_warnings, title_of_case
from .causes import REPAIR, Cause
from .in_a_row import ANY, PassRows
from .notices import title_of
from .replay import Replay, opener_of, replay_all
from .said import BY_COMPANY, undone
from .trials import Trial

__all__ = [
    "ANY",
    "BY_COMPANY",
    "ERROR",
    "REPAIR",
    "REQUALIFY",
    "RETEST",
    "RETURNED",
    "TITLES",
    "Cause",
    "Replay",
    "PassRows",
    "Trial",
    "cases_of",
    "opener_of",
    "order_warnings",
    "replay_all",
    "title_of",
    "title_of_case",
    "undone",
]
