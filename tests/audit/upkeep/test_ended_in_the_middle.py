"""The process is killed in the middle of a backup and of a restore: half of it is never taken for the whole.

These run on SQLite and, by tests/site/test_postgresql.py, on PostgreSQL. STANDING_KILLS=200 makes it that many kills.
"""

from __future__ import annotations

import os

import pytest

from audit.upkeep import archive, backup, databases, proof, restore
from audit.upkeep import place as p

from . import dying

KILLS = int(os.environ.get("STANDING_KILLS", "5"))


@pytest.fixture(autouse=True)
def no_binder(monkeypatch):
    """It only reads, and takes long."""
    monkeypatch.setattr(proof, "binder", lambda wanted=None: None)


def test_a_backup_ended_anywhere_leaves_no_set_or_a_whole_one(place, tmp_path):
    sets = tmp_path / "sets"

    def work():
        backup.make(place, sets)

    count = dying.ended_at(work, 0)
    whole = sorted(sets.glob("standing-*"))
    assert count > 100 and len(whole) == 1
    whole[0].unlink()
    killed = 0
    for at in dying.spread(count, KILLS):
        killed += dying.ended_at(work, at) is None
        for found in sets.glob("standing-*"):
            assert archive.read(found, "")["proof"]["heads"] == proof.heads()
            found.unlink()
    assert killed >= KILLS - 1
    made = backup.make(place, sets)
    assert sorted(os.listdir(sets)) == [".lock", made.path.name] and made.manifest["proof"]["heads"] == proof.heads()


def gone_on_with(path, back) -> bool:
    """Begin the restore again; whether the place said of itself that it was half."""
    half = p.unfinished(back)
    if half:
        with pytest.raises(backup.NoBackup, match="not whole yet"):
            backup.make(back, back.data.parent / "none")
    assert restore.restore(path, back).record == () and not p.unfinished(back)
    return half


def test_a_restore_ended_anywhere_says_so_and_is_begun_again(place, the_set, empty):
    path, first = the_set(), empty()
    stated = archive.read(path, "")["proof"]
    count = dying.ended_at(lambda: restore.restore(path, first), 0)
    assert count > 100
    halves = 0
    for at in dying.spread(count, KILLS):
        back = empty()
        assert dying.ended_at(lambda back=back: restore.restore(path, back), at) is None
        if p.unfinished(back) or databases.is_empty(back):
            halves += gone_on_with(path, back)
        else:
            assert at > 0.9 * count, "only when all of it stands does nothing say that it is half"
        with p.standing_in(back):
            assert proof.chains() == {} and proof.lost() == stated["lost"] and proof.heads() == stated["heads"]
    assert halves >= KILLS // 2


def test_another_set_does_not_go_on_where_one_was_ended(place, the_set, empty, tmp_path):
    path, back = the_set(), empty()
    assert restore.restore(path, back).record == ()
    manifest = archive.read(path, "")
    p.note(back.data / p.RESTORING, {"made_at": "2026-01-01T00:00:00+00:00", "members": len(manifest["members"])})
    with pytest.raises(restore.NotRestored, match="Another set was being put back here"):
        restore.restore(path, back)
