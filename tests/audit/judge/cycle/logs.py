"""Invented cycles as files: a run up, a hold and a way down, sampled as asked, then damaged as a test wants it."""

from __future__ import annotations

from decimal import Decimal

from audit.judge.cycle.steam import p_sat

HEAD = ("# cycle 1", "# serial: INVENTED-1", "# cycle: 7", "# ambient_kpa: 101.325")
NAMES = "t_s,temperature_c,pressure_kpa_abs,temperature_2_c"


def rows(hold=200, dt=1, at="135.0", lag=5, start=0, up=60, down=60, low="100.0") -> list[list[str]]:
    """Rows of a cycle in saturated steam: time, reference, pressure, second sensor.

    `hold` seconds from the second sensor's first sample at `at` to its last; it comes `lag` seconds after the
    reference, and both leave together. The way up and the way down take `up` and `down` seconds from and to `low`.
    """
    low, at = Decimal(low), Decimal(at)
    out, t = [], Decimal(start)
    for n in range(0, up, dt):
        value = low + (at - low - 2) * n / up
        out.append(_row(t, value, value))
        t += dt
    for n in range(0, lag + hold + 1, dt):
        out.append(_row(t, at, at if n >= lag else at - Decimal("1.5")))
        t += dt
    for n in range(dt, down + 1, dt):
        value = at - 2 - (at - 2 - low) * n / down
        out.append(_row(t, value, value))
        t += dt
    return out


def _row(t: Decimal, first: Decimal, second: Decimal) -> list[str]:
    return [str(t), f"{first:.3f}", f"{p_sat(float(first)):.3f}", f"{second:.3f}"]


def text(body, names=NAMES, head=HEAD, sep=",", end="\n") -> str:
    """The file as text: head, names and rows, each line ended."""
    lines = [*head, names.replace(",", sep), *(sep.join(row) for row in body)]
    return "".join(line + end for line in lines)


def file(body=None, **how) -> bytes:
    """The file as bytes."""
    return text(rows() if body is None else body, **how).encode()


def without(body, *columns) -> list[list[str]]:
    """The rows without these columns."""
    return [[cell for n, cell in enumerate(row) if n not in columns] for row in body]


def changed(body, when, **cells) -> list[list[str]]:
    """The rows with other cells where `when(seconds)`; by name: t, ref, p, second."""
    place = {"t": 0, "ref": 1, "p": 2, "second": 3}
    out = [list(row) for row in body]
    for row in out:
        if when(float(row[0])):
            for name, value in cells.items():
                row[place[name]] = value
    return out
