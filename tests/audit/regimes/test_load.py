"""Reading rules files: what a good one may say; every bad one names file, key, what is wrong and the way out."""

from __future__ import annotations

from datetime import date

import pytest

from audit.regimes import RegimeError, load_regime
from audit.regimes.load import FOLDER, regime_ids

HEAD = """
id = "mine"
title = "x"
place = "p"
programme = "dental"
edition = "e"
valid_from = 2020-01-01
valid_from_grade = "read"
inherits = "base"
"""
SOURCE = 'citation = "c"\nchecked_on = 2026-11-25\ngrade = "quoted"\n'
TEST = f'\n[[duty]]\nid = "biological-test"\ntitle = "Spore test"\nevery = "calendar-week"\n{SOURCE}'
GOOD = HEAD + TEST


def rules(tmp_path, text: str, id: str = "mine", **others: str):
    """Rules of one's own beside the shared ones, read."""
    (tmp_path / "base.toml").write_text((FOLDER / "base.toml").read_text(encoding="utf-8"), encoding="utf-8")
    for name, other in (others | {id: text}).items():
        (tmp_path / f"{name}.toml").write_text(other, encoding="utf-8")
    return load_regime(id, tmp_path)


def duty(extra: str, id: str = "second", every: str = "calendar-week", pre: str = "") -> str:
    return f'\n[[{pre}duty]]\nid = "{id}"\ntitle = "t"\nevery = "{every}"\n{extra}\n{SOURCE}'


def before(day: str, text: str = "", edition: str = "old") -> str:
    return f'\n[[before]]\nedition = "{edition}"\nvalid_from = {day}\nvalid_from_grade = "quoted"\n{text}'


# ------------------------------------------------------------------------------------------------ good files


def test_a_good_file_of_ones_own(tmp_path):
    found = rules(tmp_path, GOOD)
    assert found.duties[0].words == "once in each calendar week" and found.earlier == ()


def test_rules_are_read_once(tmp_path):
    assert rules(tmp_path, GOOD) is load_regime("mine", tmp_path)


def test_duties_can_be_dropped_and_take_the_place_of_inherited_ones(tmp_path):
    child = HEAD.replace('"mine"', '"child"').replace('"base"', '"mine"')
    parent = GOOD + duty("") + duty("", id="third")
    text = child + 'without = ["second"]\n' + duty("", id="biological-test", every="calendar-month") + duty("", "new")
    found = rules(tmp_path, text, "child", mine=parent)
    assert [(d.id, d.every) for d in found.duties] == [
        ("biological-test", "calendar-month"),
        ("third", "calendar-week"),
        ("new", "calendar-week"),
    ]


def test_earlier_editions_override_the_newest_one_by_one(tmp_path):
    keep = f'\n[[retention]]\nwhat = "results"\nmonths = 12\nwords = "a year"\n{SOURCE}'
    text = GOOD + duty("") + keep
    text += before("2015-01-01", 'without = ["second"]\n' + f"[before.validity]\nawaited_days_clinic = 3\n{SOURCE}")
    text += before("2010-06-01", 'title = "y"\n' + duty("", "biological-test", "calendar-month", "before."), "oldest")
    found = rules(tmp_path, text)
    middle, oldest = found.earlier
    assert [d.id for d in middle.duties] == ["biological-test"] and middle.retention == found.retention
    assert (middle.validity.awaited_days_clinic, middle.validity.awaited_days_laboratory) == (3, 14)
    assert found.validity.awaited_days_clinic == 7
    # an earlier edition says how it differed from the newest, not from the one after it
    assert [(d.id, d.every) for d in oldest.duties] == [
        ("biological-test", "calendar-month"),
        ("second", "calendar-week"),
    ]
    assert (oldest.title, middle.title, oldest.validity) == ("y", "x", found.validity)
    days = {
        date(2020, 1, 1): "e",
        date(2019, 12, 31): "old",
        date(2015, 1, 1): "old",
        date(2014, 12, 31): "oldest",
        date(2000, 1, 1): "oldest",
    }
    assert {day: found.on(day).edition for day in days} == days


def test_an_earlier_edition_may_inherit_from_elsewhere(tmp_path):
    other = HEAD.replace('"mine"', '"other"') + duty("", "others")
    found = rules(tmp_path, GOOD + before("2015-01-01", 'inherits = "other"\n'), other=other)
    assert [d.id for d in found.earlier[0].duties] == ["others", "biological-test"]
    assert [d.id for d in found.duties] == ["biological-test"]


def test_earlier_editions_are_not_inherited(tmp_path):
    child = HEAD.replace('"mine"', '"child"').replace('"base"', '"mine"')
    assert rules(tmp_path, child, "child", mine=GOOD + before("2015-01-01")).earlier == ()


def test_a_spore_test_may_be_asked_of_a_laboratory_in_a_full_chamber_and_in_a_place(tmp_path):
    asked = 'site = "laboratory"\nchamber = "full"\nplace = "at the centre"'
    plain, more = rules(tmp_path, GOOD + duty(asked)).duties
    assert (more.site, more.chamber, more.place, more.conditions) == ("laboratory", "full", "at the centre", True)
    assert (plain.site, plain.chamber, plain.place, plain.conditions) == ("any", "any", "", False)


def test_what_is_asked_before_a_release_is_inherited(tmp_path):
    child = HEAD.replace('"mine"', '"child"').replace('"base"', '"mine"')
    asked = f'\n[release]\nmechanical = true\nwords = "the printout of each load"\n{SOURCE}'
    found = rules(tmp_path, child, "child", mine=GOOD + asked)
    assert found.release.mechanical and found.release.words == "the printout of each load"
    assert rules(tmp_path, GOOD.replace('"mine"', '"other"'), "other").release is None


def test_the_words_of_a_text_never_stand_under_the_name_of_another(tmp_path):
    path = "\n[failure.biological]\nwithdraws = true\nrepeats = 1\n"
    child = HEAD.replace('"mine"', '"child"').replace('"base"', '"mine"')
    words = 'decisive = "sofort"\nin_english = "at once"\n'
    parent = GOOD + path + SOURCE + words
    own = rules(tmp_path, child + path + SOURCE.replace('"c"', '"d"'), "child", mine=parent)
    assert own.decisive == () and own.decisive_words(own.path("biological").source) == ""
    above = load_regime("mine", tmp_path)
    assert above.decisive_words(above.path("biological").source) == "“sofort” (in English: at once)"
    heir = rules(tmp_path, child.replace('"child"', '"heir"'), "heir")
    assert heir.decisive == above.decisive


def test_the_end_of_an_edition_and_its_place_are_of_the_file_itself(tmp_path):
    """Neither an heir nor an earlier edition ends with it."""
    where = changed('title = "x"', 'title = "x"\ncountry = "C"\nregion = "R"\nkinds = ["dental", "medical"]')
    before = '\n[[before]]\nedition = "first"\nvalid_from = 2010-01-01\nvalid_from_grade = "read"\n'
    ended = where + f'[ended]\non = 2026-01-01\nwords = "w"\n{SOURCE}' + before
    one = rules(tmp_path, ended)
    assert (one.country, one.region, one.locality, one.kinds) == ("C", "R", "", ("dental", "medical"))
    assert one.has_ended(date(2026, 1, 1)) and not one.has_ended(date(2025, 12, 31))
    assert one.earlier[0].ended is None and one.earlier[0].kinds == one.kinds
    heir = rules(tmp_path, HEAD.replace('"mine"', '"heir"').replace('"base"', '"mine"'), "heir")
    assert (heir.country, heir.ended) == ("", None) and heir.duties == one.duties


def test_only_files_beside_the_module_are_rules():
    assert regime_ids() == tuple(sorted(regime_ids())) and "model" not in regime_ids()


# ------------------------------------------------------------------------------------------------ bad files


def changed(old: str, new: str) -> str:
    assert old in GOOD
    return GOOD.replace(old, new, 1)


NOTICE = '[[failure.biological.notice]]\nwho = "w"\nwithin = 1\n'
STEP = f'[[failure.biological.step]]\naction = "retest"\ntitle = "t"\n{SOURCE}'
KEEP = '[[retention]]\nwhat = "results"\nwords = "w"\n'
BIO = "duty.biological-test."
BAD = [
    # text, key, what is said
    (changed('title = "x"', "title = 7"), "title", "is 7"),
    (changed('title = "x"', 'title = " "'), "title", "is empty"),
    (changed('title = "x"', ""), "title", "is missing"),
    (changed('title = "x"', 'title = "x"\ncolour = "blue"'), "colour", "not a key"),
    (changed('title = "x"', "title = "), "(whole file)", "is not TOML"),
    (
        changed("\ngrade", '\ndecisive = "so"\ngrade').replace('"quoted"', '"from memory"'),
        BIO + "decisive",
        "from memory",
    ),
    (changed("\ngrade", f'\ndecisive = "{"so " * 26}"\ngrade'), BIO + "decisive", "has 26 words"),
    (changed("\ngrade", '\nin_english = "so"\ngrade'), BIO + "in_english", "translates nothing"),
    (
        changed("\ngrade", '\ndecisive = "so"\ngrade') + duty('decisive = "not so"'),
        "duty.second.decisive",
        "differs from that of another rule",
    ),
    (changed('grade = "quoted"', 'grade = "from memory"'), BIO + "unread", "is missing"),
    (changed("\ngrade", '\nunread = "why"\ngrade'), BIO + "unread", "stands beside the grade 'quoted'"),
    (changed('grade = "quoted"', 'grade = "common practice"'), BIO + "citation", "names no rule of the trade"),
    (changed('title = "x"', 'title = "x"\nregion = "R"'), "country", "missing beside the region 'R'"),
    (changed('title = "x"', 'title = "x"\ncountry = "C"\nlocality = "L"'), "region", "beside the locality 'L'"),
    (changed('title = "x"', 'title = "x"\nkinds = ["circus"]'), "kinds", "names 'circus'"),
    (GOOD + "[ended]\non = 2026-01-01\n" + SOURCE, "ended.words", "is missing"),
    (changed("2020-01-01", '"2020"'), "valid_from", "'2020'"),
    (changed('id = "mine"', 'id = "other"'), "id", "'other'"),
    (changed('inherits = "base"', 'inherits = "gone"'), "inherits", "has no file"),
    (changed('inherits = "base"', 'inherits = "mine"'), "inherits", "circle: mine > mine"),
    (changed('inherits = "base"', 'inherits = ""'), "requalification", "is missing"),
    (changed('title = "x"', 'title = "x"\nnotes = "one"'), "notes", "'one'"),
    (changed('title = "x"', 'title = "x"\nnotes = [1]'), "notes[0]", "is 1"),
    (changed('title = "x"', 'title = "x"\nwithout = ["gone"]'), "without", "'gone', which is not inherited"),
    (changed('title = "x"', 'title = "x"\nwithout = "gone"'), "without", "'gone'"),
    (changed('title = "x"', 'title = "x"\nduty = 3').replace(TEST, ""), "duty", "is 3"),
    (changed('title = "x"', 'title = "x"\nduty = [3]').replace(TEST, ""), "duty[0]", "is 3"),
    # sources
    (changed('grade = "quoted"', 'grade = "sure"'), "duty.biological-test.grade", "'sure'"),
    (changed('grade = "quoted"', ""), "duty.biological-test.grade", "is missing"),
    (changed("checked_on = 2026-11-25", 'checked_on = "lately"'), "duty.biological-test.checked_on", "'lately'"),
    (changed("checked_on = 2026-11-25", ""), "duty.biological-test.checked_on", "is missing"),
    (changed('citation = "c"', ""), "duty.biological-test.citation", "is missing"),
    (changed('citation = "c"', 'citation = ""'), "duty.biological-test.citation", "is empty"),
    (GOOD + "[failure.biological]\nrepeats = 2\n", "failure.biological.citation", "no citation of its own"),
    (GOOD + "[requalification]\nbiological = 2\n", "requalification.citation", "no citation of its own"),
    (GOOD + "[verification.A]\nrequalify = true\n", "verification.A.citation", "no citation of its own"),
    (GOOD + "[validity]\nawaited_days_clinic = 2\n", "validity.citation", "no citation of its own"),
    # what is asked after work is never less than what is inherited
    (GOOD + "[requalification]\nair_removal = 2\n" + SOURCE, "requalification.air_removal", "inherited asks 3"),
    (GOOD + "[requalification]\nbiological = 2\n" + SOURCE, "requalification.biological", "inherited asks 3"),
    (GOOD + '[verification.B]\ntests = ["V4"]\n' + SOURCE, "verification.B.tests", "leaves out V1"),
    (GOOD + "[verification.A]\nvalues = []\n" + SOURCE, "verification.A.values", "leaves out V4"),
    (GOOD + '[verification.A]\ntests = ["V1", "V11"]\n' + SOURCE, "verification.A.tests", "'V11'"),
    (GOOD + '[component."flux thing"]\ntests = ["V6"]\n' + SOURCE, "component.flux thing", "is not a component"),
    (GOOD + "[component.door]\n" + SOURCE, "component.door.tests", "is missing"),
    (GOOD + '[component.door]\ntests = ["V6"]\n', "component.door.checked_on", "is missing"),
    (GOOD + '[look_back."part recall"]\nwords = "w"\n', "look_back.part recall.citation", "no citation of its own"),
    (GOOD + KEEP, "retention[0].checked_on", "is missing"),
    (GOOD + NOTICE + 'measure = "days"\n', "failure.biological.notice[0].checked_on", "is missing"),
    (
        GOOD + '[[failure.biological.step]]\naction = "a"\ntitle = "t"\n',
        "failure.biological.step[0].checked_on",
        "is miss",
    ),
    # duties
    (changed('every = "calendar-week"', 'every = "fortnight"'), "duty.biological-test.every", "'fortnight'"),
    (GOOD + duty('colour = "blue"'), "duty.second.colour", "not a key"),
    (GOOD + duty("", "biological-test"), "duty.biological-test.id", "another duty's"),
    (GOOD + duty('subject = "weather"'), "duty.second.subject", "'weather'"),
    (GOOD + duty("", every="rolling-days"), "duty.second.count", "is missing"),
    (GOOD + duty("count = 0", every="rolling-days"), "duty.second.count", "is 0"),
    (GOOD + duty("count = -1", every="rolling-days"), "duty.second.count", "is -1"),
    (GOOD + duty("count = true", every="rolling-days"), "duty.second.count", "is True"),
    (GOOD + duty("count = 3"), "duty.second.count", "means nothing with 'calendar-week'"),
    (GOOD + duty("count = 30", every="hours-or-days"), "duty.second.hours", "is missing or 0"),
    (GOOD + duty("hours = 40", every="day-of-use"), "duty.second.hours", "means nothing"),
    (
        GOOD + duty('subject = "air leak"', every="each-implant-load"),
        "duty.second.subject",
        "for the subject 'biological'",
    ),
    (GOOD + duty("count = 14", every="stated-date"), "duty.second.subject", "only a report states a date"),
    (GOOD + duty("", every="after-event"), "duty.second.events", "is missing"),
    (GOOD + duty('events = ["flood"]', every="after-event"), "duty.second.events", "'flood'"),
    (GOOD + duty('events = ["repair", "repair"]', every="after-event"), "duty.second.events", "twice"),
    (GOOD + duty('events = ["idle"]', every="after-event"), "duty.second.idle_days", "is missing or 0"),
    (
        GOOD + duty('events = ["repair"]\nidle_days = 3', every="after-event"),
        "duty.second.idle_days",
        "without the event",
    ),
    (GOOD + duty('events = ["repair"]\npasses = 0', every="after-event"), "duty.second.passes", "is 0"),
    (GOOD + duty('events = ["repair"]'), "duty.second.events", "means nothing with 'calendar-week'"),
    (GOOD + duty("passes = 3"), "duty.second.passes", "means nothing with 'calendar-week'"),
    (GOOD + duty('chamber = "half"'), "duty.second.chamber", "'half'"),
    (GOOD + duty('site = "home"'), "duty.second.site", "'home'"),
    (GOOD + duty('site = "laboratory"\nsubject = "water"'), "duty.second.site", "means nothing with 'water'"),
    (GOOD + duty('place = "centre"\nsubject = "servicing"'), "duty.second.place", "means nothing with 'servicing'"),
    (GOOD + duty('chamber = "full"\nsubject = "safety check"'), "duty.second.chamber", "means nothing with"),
    (GOOD + f"\n[release]\nmechanical = true\n{SOURCE}", "release.words", "is missing"),
    (GOOD + f'\n[release]\nwords = "each load"\n{SOURCE}', "release.mechanical", "is missing"),
    (GOOD + '\n[release]\nmechanical = true\nwords = "each load"\n', "release.checked_on", "is missing"),
    (GOOD + duty('equipment = ["oven"]'), "duty.second.equipment", "'oven'"),
    (GOOD + duty('subject = "air removal"'), "duty.second.equipment", "['dynamic air removal']"),
    (GOOD + duty('subject = "air removal"\nequipment = ["gravity"]'), "duty.second.equipment", "['gravity']"),
    (GOOD + duty('subject = "air leak"'), "duty.second.equipment", "covers 'gravity'"),
    (
        GOOD + duty('subject = "air leak"\nequipment = ["gravity", "cassette"]'),
        "duty.second.equipment",
        "covers 'gravity'",
    ),
    (GOOD + duty('forbids = "yes"'), "duty.second.forbids", "'yes'"),
    # after a failure
    (GOOD + "[failure.flood]\n" + SOURCE, "failure.flood", "not a kind of failure"),
    (GOOD + "[failure.biological]\nrepeats = -1\n" + SOURCE, "failure.biological.repeats", "is -1"),
    (GOOD + '[failure.biological]\nrecall = "later"\n' + SOURCE, "failure.biological.recall", "'later'"),
    (GOOD + '[failure.biological]\nrecall_scope = "x"\n' + SOURCE, "failure.biological.recall_scope", "'x'"),
    (GOOD + '[failure.biological]\nreturn_order = "x"\n' + SOURCE, "failure.biological.return_order", "'x'"),
    (GOOD + "[failure.biological]\nspeed = 1\n" + SOURCE, "failure.biological.speed", "not a key"),
    (GOOD + STEP + "\nspeed = 1\n", "failure.biological.step[0].speed", "not a key"),
    (GOOD + STEP + '\nwhen = "never"\n', "failure.biological.step[0].when", "'never'"),
    (GOOD + NOTICE + SOURCE, "failure.biological.notice[0].measure", "is missing"),
    (GOOD + NOTICE + 'measure = "moons"\n' + SOURCE, "failure.biological.notice[0].measure", "'moons'"),
    (
        GOOD + NOTICE + 'measure = "business days"\nholidays = "US-ZZ"\n' + SOURCE,
        "failure.biological.notice[0].holidays",
        "'US-ZZ', whose public holidays are not known",
    ),
    (
        GOOD + NOTICE + 'measure = "business days"\nholidays = "Nowhere"\n' + SOURCE,
        "failure.biological.notice[0].holidays",
        "'Nowhere'",
    ),
    (
        GOOD + NOTICE + 'measure = "days"\nholidays = "US-MT"\n' + SOURCE,
        "failure.biological.notice[0].holidays",
        "means nothing with 'days'",
    ),
    (GOOD + '[look_back.flood]\nwords = "w"\n' + SOURCE, "look_back.flood", "not a trigger"),
    (GOOD + '[look_back."part recall"]\nspeed = 1\n' + SOURCE, "look_back.part recall.speed", "not a key"),
    # the other tables
    (GOOD + "[requalification]\nspeed = 1\n" + SOURCE, "requalification.speed", "not a key"),
    (GOOD + "[verification.D]\n" + SOURCE, "verification.D", "not a key"),
    (GOOD + "[verification.A]\nspeed = 1\n" + SOURCE, "verification.A.speed", "not a key"),
    (GOOD + "[validity]\nspeed = 1\n" + SOURCE, "validity.speed", "not a key"),
    (GOOD + KEEP + "speed = 1\n" + SOURCE, "retention[0].speed", "not a key"),
    (GOOD + KEEP + "months = 1\ncalendar_years = 1\n" + SOURCE, "retention[0].calendar_years", "beside months"),
    (GOOD + KEEP + 'starts = "last entry"\n' + SOURCE, "retention[0].starts", "without months"),
    (GOOD + KEEP + 'starts = "birth"\n' + SOURCE, "retention[0].starts", "'birth'"),
    # editions
    (GOOD + "[before]\nx = 1\n", "before", "is not a list"),
    (GOOD + "[[before]]\nvalid_from = 2015-01-01\n", "before[0].edition", "is missing"),
    (GOOD + '[[before]]\nedition = "old"\n', "before[0].valid_from", "is missing"),
    (GOOD + before("2015-01-01", "colour = 1\n"), "before[0].colour", "not a key"),
    (GOOD + before("2015-01-01", 'place = "q"\n'), "before[0].place", "not a key"),
    (GOOD + before("2020-01-01"), "before[0].valid_from", "2020-01-01"),
    (GOOD + before("2015-01-01") + before("2016-01-01"), "before[1].valid_from", "2016-01-01"),
    (GOOD + before("2015-01-01", 'without = ["gone"]\n'), "before[0].without", "'gone'"),
    (GOOD + before("2015-01-01", 'inherits = "gone"\n'), "inherits", "'gone'"),
    (GOOD + before("2015-01-01", duty("count = 2", pre="before.")), "before[0].duty.second.count", "means nothing"),
    (
        GOOD + before("2015-01-01", "[before.validity]\nawaited_days_clinic = 1\n"),
        "before[0].validity.citation",
        "own",
    ),
]


@pytest.mark.parametrize(("text", "key", "what"), BAD, ids=[f"{n}-{key}" for n, (_, key, _) in enumerate(BAD)])
def test_a_bad_file_names_file_key_and_way_out(tmp_path, text, key, what):
    with pytest.raises(RegimeError) as error:
        rules(tmp_path, text)
    assert (error.value.file, error.value.key) == ("mine.toml", key)
    assert what in str(error.value)
    assert error.value.way_out and str(error.value).endswith(error.value.way_out)


def test_an_error_in_what_is_inherited_names_its_own_file(tmp_path):
    child = HEAD.replace('"mine"', '"child"').replace('"base"', '"mine"')
    with pytest.raises(RegimeError) as error:
        rules(tmp_path, child, "child", mine=changed('grade = "quoted"', ""))
    assert (error.value.file, error.value.key) == ("mine.toml", "duty.biological-test.grade")


def test_a_longer_circle_is_named(tmp_path):
    other = HEAD.replace('"mine"', '"other"').replace('"base"', '"mine"')
    with pytest.raises(RegimeError, match="goes in a circle: mine > other > mine"):
        rules(tmp_path, changed('inherits = "base"', 'inherits = "other"'), other=other)


def test_a_circle_that_one_does_not_belong_to_is_named_too(tmp_path):
    one = HEAD.replace('"mine"', '"one"').replace('"base"', '"two"')
    two = HEAD.replace('"mine"', '"two"').replace('"base"', '"one"')
    with pytest.raises(RegimeError, match="goes in a circle"):
        rules(tmp_path, changed('inherits = "base"', 'inherits = "one"'), one=one, two=two)
