"""Which rules were not compared with their texts for so many days."""

from __future__ import annotations

from datetime import date, timedelta

from audit.management.commands.regimes import unchecked
from audit.regimes import load_regime

CHECKED = date(2026, 11, 28)  # the day on which the Indiana rule was last compared


def test_what_was_checked_so_many_days_ago_is_not_yet_stale_and_the_day_after_it_is():
    indiana = load_regime("us-in")
    (own,) = [source for source in indiana.sources if source.citation.startswith("410 IAC")]
    assert own not in [s for _, s in unchecked(indiana, 30, CHECKED + timedelta(days=30))]
    assert (CHECKED, own) in unchecked(indiana, 30, CHECKED + timedelta(days=31))


def test_the_command_lists_the_longest_unchecked_first(command):
    code, out, err = command("regimes", "us-in", "--stale", "0", "--on", "2026-11-29")
    told = out.splitlines()
    assert (code, err) == (0, "")
    assert [row for row in told if row.startswith("us-in: 410 IAC 1-4-8(d)(2)(C)") and "1 days ago; read" in row]
    days = [row.partition("Checked ")[2][:10] for row in told[:-1]]
    assert days == sorted(days) and len(days) > 5
    assert told[-1] == f"{len(days)} to be compared with their texts again (more than 0 days on 2026-11-29)."
    assert command("regimes", "--stale", "36500", "--on", "2026-11-29")[1].startswith("0 to be compared")


def test_of_all_sets_each_citation_is_listed_where_it_is_brought_alone(command):
    told = command("regimes", "--stale", "0", "--on", "2026-11-29")[1].splitlines()
    shared = [row for row in told if "HTM 01-05 (2013) 15.14. Checked" in row]
    assert [row.partition(":")[0] for row in shared] == ["base"]
    assert [row for row in told if row.startswith("us-tn-dental: Tenn. Comp.")]
    assert not [row for row in told if row.startswith("us-tn-dental: CDC 2003")]
    assert len(told) == len(set(told))


def test_a_number_below_nought_is_refused(command):
    code, out, err = command("regimes", "--stale", "-1")
    assert (code, out) == (2, "") and "is below 0" in err
