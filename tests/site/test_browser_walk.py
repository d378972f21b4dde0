"""A random walk over two devices and the server: of a visit that is typed, nothing is lost and nothing is doubled.

The devices run the site's own scripts (`walked_device.js`); the network drops, repeats and delays what they send,
tabs are reloaded and killed, people sign out and others sign in. STANDING_WALKS=2000 walks as often as that.
"""

from __future__ import annotations

import json
import os
import re

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule, run_state_machine_as_test

from audit.models import VisitDraft
from records import clock
from records.models import Job, JobConclusion, Photo, TaskOutcome, Visit
from tests import world as made
from tests.examples import examples
from tests.kept import kept

from . import walked_device
from .test_browser import browser  # noqa: F401 (fixture)
from .walked_device import NAMES, OTHER, OWNER

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WALKS = int(os.environ.get("STANDING_WALKS", "15"))
LONGEST = int(os.environ.get("STANDING_WALK_STEPS", "12"))

# Page to the field that is typed there, and what is chosen with it.
TYPED = {
    "identify": ("cycles", ()),
    "safe": ("complaint", ()),
    "task-replace-seal": ("reason", (("outcome", "not possible"),)),
    "extra-1": ("what", (("action", "inspect"), ("outcome", "not possible"), ("reason", "no key"))),
    "end": ("reason", (("conclusion", "not worked on"), ("meanwhile", "kept"))),
}
NEEDED = {
    "identify": (("plate", "same"), ("positions", "same")),
    "safe": (("reason", "planned"), ("contamination", "declared clean")),
    "end": (("conclusion", "not worked on"), ("meanwhile", "kept")),
}
ON_RECORD = {
    "safe": (Job, "complaint"), "task-replace-seal": (TaskOutcome, "reason"), "extra-1": (TaskOutcome, "found"),
    "end": (JobConclusion, "reason"),
}  # fmt: skip
GO_ON = {"task-replace-seal": "Keep this and go on", "extra-1": "Keep this and go on"}
device = st.sampled_from(NAMES)
# Before which of the next things that it does (storing, asking, sending) a tab is killed; -1: it lives.
left = st.sampled_from([-1, -1, -1, -1, 0, 1, 2, 3, 5, 8])

WORD = re.compile(r"w\d+x")
step = st.sampled_from(list(TYPED))
unit = st.sampled_from([1, 1, 2])

walked: dict = {}


class Walk(RuleBasedStateMachine):
    """What was typed last in each place is in `live`: by a word that stands nowhere else."""

    def __init__(self) -> None:
        super().__init__()
        self.live: dict[str, tuple[int, str]] = {}  # word to (unit, page)
        self.photos: set[str] = set()
        self.replaced: set[str] = set()
        self.words = 0
        self.begun_units: tuple[str, ...] = ()
        self.is_done, self.undo = False, None
        self.at = walked["devices"]
        self.who = dict.fromkeys(NAMES, OWNER)
        self.is_on = dict.fromkeys(NAMES, True)

    def teardown(self) -> None:
        try:
            if not self.is_done and self.begun_units:
                self.ended()
                self.at.is_clean = True
        finally:
            if self.undo:
                transaction.set_rollback(True)
                self.undo.__exit__(None, None, None)

    # ------------------------------------------------------------------------------------ seen

    def told(self, name: str) -> dict:
        return self.at.told[name]

    def word(self) -> str:
        self.words += 1
        return f"w{self.words}x"

    def step_of(self, name: str) -> tuple[int, str]:
        """(unit, page) that the tab shows; (0, "") when it is none of a visit."""
        url = self.told(name)["url"] if self.told(name)["isOpen"] else ""
        if found := re.search(r"/visit/of/([0-9a-f-]{36})/([a-z0-9-]+)/", url):
            return list(self.refs).index(found[1]) + 1 if found[1] in self.refs else 1, found[2]
        if found := re.search(r"/visit/[0-9a-f-]{36}/(\d+)/([a-z0-9-]+)/", url):
            return int(found[1]), found[2]
        return 0, ""

    @property
    def refs(self) -> list[str]:
        return list(self.begun_units)

    # ------------------------------------------------------------------------------------ begin

    @initialize(offline=st.booleans(), units=st.sampled_from([1, 1, 2]))
    def begins(self, offline, units):
        walked["runs"] += 1
        self.undo = transaction.atomic()
        self.undo.__enter__()
        clock.stand_at(made.NOW)
        self.at.start()
        refs = [str(unit.ref) for unit in walked["world"].units[:units]]
        self.begun_units = tuple(refs)
        if offline:
            self.cut("A", True)
        self.at.call("visit", "A", self.at.server.address)
        self.begin("A", refs)
        told = self.told("A")
        assert told["title"] == "Is it this unit?", told["main"][:600]
        assert told["runs"], "the scripts of the page do not run"
        if draft := VisitDraft.objects.first():
            self.keep_along("A", draft)

    def keep_along(self, name, draft):
        owner = str(walked["world"].people[OWNER].ref)
        self.at.call("keep", name, owner, self.at.server.pages_of(draft))

    def begin(self, name, refs):
        for ref in refs:
            assert self.at.call("choose_unit", name, ref)
        self.at.call("press", name, "Begin")

    # ------------------------------------------------------------------------------------ what people do

    def is_mine(self, name) -> bool:
        return self.who[name] == OWNER and self.told(name)["isOpen"]

    @rule(name=device, step=step, unit=unit)
    def opens(self, name, step, unit):
        """A page of the visit, by the links that are on the page shown."""
        self.open_page(name, min(unit, len(self.refs)), step)

    def open_page(self, name, unit, step) -> bool:
        if self.who[name] != OWNER:
            return False
        if self.step_of(name)[0] == 0 and not self.to_visit(name):
            return False
        n, here = self.step_of(name)
        if n != unit:
            address = self.other_unit(name, unit)
            if not address:
                return False
            self.at.call("visit", name, address)
        if self.step_of(name)[1] == step:
            return True
        if self.step_of(name)[0] != unit:
            return False
        url = self.told(name)["url"]
        self.at.call("visit", name, re.sub(r"/[a-z0-9-]+/(\?[^/]*)?(#.*)?$", f"/{step}/", url))
        return self.step_of(name) == (unit, step)

    def other_unit(self, name, unit) -> str:
        url = self.told(name)["url"]
        if "/visit/of/" in url:
            return re.sub(r"/of/[0-9a-f-]{36}/.*", f"/of/{self.refs[unit - 1]}/identify/", url)
        return re.sub(r"(/visit/[0-9a-f-]{36}/)\d+/.*", rf"\g<1>{unit}/identify/", url)

    def to_visit(self, name) -> bool:
        """From the page where visits begin to the one that is being typed."""
        self.at.call("visit", name, self.at.server.address)
        told = self.told(name)
        if told["title"] != "Begin a visit":
            return False
        labels = ", ".join(unit.label for unit in walked["world"].units[: len(self.refs)])
        if self.at.call("follow", name, "Open it") or self.at.call("follow", name, labels):
            return True
        if name != "A" or self.live or self.photos or VisitDraft.objects.exists():
            return False
        self.begin(name, self.refs)  # nothing was typed yet, so nothing was begun
        return self.step_of(name)[0] > 0

    @rule(
        name=device, step=st.sampled_from(list(TYPED)), unit=st.sampled_from([1, 1, 2]), left=left, on=st.booleans()
    )
    def opens_and_types(self, name, step, unit, left, on):
        if self.open_page(name, min(unit, len(self.refs)), step):
            self.type_here(name, left)
            if on:
                self.go_on(name)

    @precondition(lambda self: any(self.step_of(name)[0] for name in NAMES))
    @rule(name=device, left=left)
    def types(self, name, left):
        self.type_here(name, left)

    def type_here(self, name, left=-1) -> None:
        unit, step = self.step_of(name)
        if step not in TYPED or not self.is_mine(name):
            return
        field, also = TYPED[step]
        before = self.at.call("seen", name, field)
        if before is None:
            return
        for each, value in also:
            self.at.call("type", name, each, value)
        word = self.word()
        done = self.at.call("type", name, field, word, left)
        if not done and word not in json.dumps(self.told(name)["storage"]):
            return  # the tab was gone before it could keep it
        self.take(before)
        self.live[word] = (unit, step)

    def take(self, before: str) -> None:
        """What stood in the field that was typed over is no longer asked for."""
        for word in re.findall(r"w\d+x", before or ""):
            self.live.pop(word, None)
            self.replaced.add(word)

    @precondition(lambda self: any(self.step_of(name)[0] for name in NAMES))
    @rule(name=device, left=left)
    def takes_a_photo(self, name, left):
        unit, step = self.step_of(name)
        if step not in TYPED or not self.is_mine(name):
            return
        word = self.word()
        done = self.at.call("photo", name, walked_device.small_picture(self.words), word, left)
        if done or word in json.dumps(self.told(name)["items"]):
            self.photos.add(word)

    @rule(name=device, left=left)
    def goes_on(self, name, left):
        self.go_on(name, left)

    def go_on(self, name, left=-1):
        if not self.is_mine(name):
            return
        step = self.step_of(name)[1]
        self.at.call("press", name, GO_ON.get(step, "Go on"), left)

    @rule(name=device)
    def puts_right(self, name):
        """A value that the server refuses is written anew."""
        if self.open_page(name, 1, "identify"):
            before = self.at.call("seen", name, "cycles")
            if before and self.is_mine(name) and self.at.call("type", name, "cycles", ""):
                self.take(before)

    @precondition(lambda self: any(told["title"].startswith("Two answers") for told in self.at.told.values()))
    @rule(name=device)
    def chooses(self, name):
        self.settle_conflict(name, "Keep what was sent now")

    @rule(name=device)
    def looks_at_the_list(self, name):
        if self.who[name] != OWNER:
            return
        self.at.call("visit", name, self.at.server.address)
        self.one_thing(name)

    def one_thing(self, name):
        told = self.told(name)
        if told["title"] != "Begin a visit" or not told["isOpen"]:
            return
        lines = told["lines"]
        assert len(lines) <= 1, f"one visit stands in the list as {lines}"

    @rule(name=device, left=left)
    def records(self, name, left):
        unit, step = self.step_of(name)
        if not unit or not self.is_mine(name):
            return
        self.to_record(name)
        self.at.call("press", name, "Record the visit", left)

    def to_record(self, name):
        url = self.told(name)["url"]
        to = re.sub(r"/\d+/[a-z0-9-]+/(\?[^/]*)?(#.*)?$", "/record/", url)
        if "/visit/of/" in url:
            to = re.sub(r"/[a-z0-9-]+/(\?[^/]*)?(#.*)?$", "/record/", url)
        self.at.call("visit", name, to)

    # ------------------------------------------------------------------------------------ what happens to them

    @rule(name=device)
    def cut_off(self, name):
        self.cut(name, self.is_on[name])

    def cut(self, name, off):
        self.is_on[name] = not off
        self.at.call("network", name, not off)

    @rule(name=device, word=st.sampled_from(["held", "unheard", "repeated", "echoed", "lost"]))
    def the_next_request_is(self, name, word):
        self.at.call("fate", name, word)

    @precondition(lambda self: any(told["held"] for told in self.at.told.values()))
    @rule(name=device, which=st.integers(0, 2))
    def something_late_arrives(self, name, which):
        self.at.call("deliver", name, which)

    @rule(name=device)
    def reloads(self, name):
        told = self.told(name)
        if told["isOpen"]:
            self.at.call("visit", name, told["url"])

    @rule(name=device)
    def is_killed(self, name):
        self.at.call("kill", name)

    @rule(seconds=st.sampled_from([2, 20, 70]))
    def time_passes(self, seconds):
        self.at.wait(seconds)

    @rule(name=device)
    def signs_out_and_another_in(self, name):
        if not self.told(name)["isOpen"] or not self.is_on[name] or self.who[name] != OWNER:
            return
        self.at.call("press", name, "Sign out")
        self.at.call("press", name, "Sign out all the same")
        if self.told(name)["account"]:
            return  # a request that got lost
        self.signs_in(name, OTHER)
        if not self.told(name)["isOpen"]:
            return
        for address in (self.at.server.address, f"/clinic/first/visit/of/{self.refs[0]}/safe/", "/waiting/"):
            self.at.call("visit", name, address)
            told = self.told(name)
            shown = told["main"] + json.dumps(told["values"])
            assert not re.search(r"w\d+x", shown), f"another one sees what was typed: {shown[:500]}"

    @precondition(lambda self: OTHER in self.who.values())
    @rule(name=device)
    def comes_back(self, name):
        if self.who[name] == OTHER and self.is_on[name]:
            self.signs_in(name, OWNER)

    def signs_in(self, name, who):
        self.at.server.sign_in(name, who)
        self.at.call("signed_in", name)
        self.who[name] = who
        self.at.call("visit", name, self.at.server.address)

    # ------------------------------------------------------------------------------------ what always holds

    def where(self) -> tuple[str, str]:
        """All that the server has of visits, and all that the devices have."""
        drafts = json.dumps([[d.content["steps"], d.content["photos"]] for d in VisitDraft.objects.all()])
        devices = json.dumps([[self.told(name)["storage"], self.told(name)["items"]] for name in NAMES])
        return drafts, devices

    def check_invariants(self, settings, name="", subclass=None):
        super().check_invariants(settings, name, subclass)
        if self.begun_units:
            was, self.is_done = self.is_done, True  # what does not hold now is not brought to an end
            self.holds()
            self.is_done = was

    def holds(self):
        drafts, devices = self.where()
        photos = set(Photo.objects.values_list("caption", flat=True)) if self.photos else set()
        kept = set(WORD.findall(drafts + devices)) | photos
        for word in [*self.live, *self.photos]:
            assert word in kept, f"{word} is lost: {self.live.get(word, 'photo')}"
        assert VisitDraft.objects.count() <= 1, "one visit is begun twice"
        assert Visit.objects.filter(happened_on=made.TODAY).count() <= 1, "one visit is recorded twice"
        for name in NAMES:
            told = self.told(name)
            assert not told["faults"], told["faults"]
            if self.who[name] != OWNER or not told["isOpen"]:
                continue
            if "and on the server," in told["kept"]:
                shown = WORD.findall(json.dumps(told["values"]))
                assert all(word in drafts for word in shown), f"said to be on the server, and is not: {shown}"
            if told["account"]:
                self.is_said(told, drafts)

    def is_said(self, told, drafts):
        """What only the device has is counted there."""
        here = set(WORD.findall(json.dumps([told["storage"], told["items"]])))
        only = [word for word in self.live if word in here and word not in drafts]
        if only:
            assert told["pages"] or told["items"], f"{only} is only on the device, which says that nothing is"

    # ------------------------------------------------------------------------------------ the end of every walk

    def ended(self):
        """The network is back and everything arrives; the visit is brought to its end as the pages say."""
        self.is_done = True
        for name in NAMES:
            self.at.call("fate", name, "")
            if not self.is_on[name]:
                self.cut(name, False)
            while self.told(name)["held"]:
                self.at.call("deliver", name, 0)
            if self.who[name] != OWNER:
                self.signs_in(name, OWNER)
        self.at.wait(5)
        for name in NAMES:
            self.send_all(name)
        self.holds()
        self.finish("A")
        for name in NAMES:
            self.send_all(name)
        self.is_recorded()

    def holds_any(self, name) -> bool:
        told = self.told(name)
        return bool(told["items"]) or any(key.startswith("visit:") for key in told["storage"])

    def send_all(self, name):
        """All that a device holds goes where its pages say that it goes."""
        if not self.holds_any(name):
            return
        for _ in range(12):
            self.at.call("visit", name, self.at.server.address)
            self.at.wait(5)
            self.one_thing(name)
            if not self.at.call("follow", name, "Open it"):
                break
            self.at.wait(5)
            self.settle(name)
        for _ in range(12):
            if not self.told(name)["pages"] or not self.to_visit(name):
                break
            self.at.wait(5)
            self.settle(name)

    def settle(self, name):
        """Follow what the line of the page says, to the two answers or to the page that needs a look."""
        for words in ("look at the two answers", "open it"):
            if self.at.call("follow", name, words):
                self.go_on(name)
                break
        self.settle_conflict(name, "Keep what was sent now")

    def settle_conflict(self, name, words):
        told = self.told(name)
        if not told["title"].startswith("Two answers") or not self.is_mine(name):
            return
        was = told["columns"][0]
        if self.at.call("press", name, words):
            self.take(was)

    def finish(self, name):
        """Every page that must be answered is, and the visit is recorded."""
        for _ in range(4):
            for unit in range(1, len(self.refs) + 1):
                for step, chosen in NEEDED.items():
                    if Visit.objects.filter(happened_on=made.TODAY).exists():
                        return
                    assert self.open_page(name, unit, step), self.told(name)["main"][:600]
                    for field, value in chosen:
                        if self.at.call("seen", name, field) is not None:
                            assert self.at.call("type", name, field, value)
                    if step == "identify" and (before := self.at.call("seen", name, "cycles")):
                        assert self.at.call("type", name, "cycles", "")
                        self.take(before)
                    if step == "end" and not self.at.call("seen", name, "reason"):
                        self.type_here(name)
                    self.at.wait(5)
                    if step != "safe":  # whose steps are not ticked, as nothing is worked on
                        self.go_on(name)
                        self.settle_conflict(name, "Keep what was sent now")
            if not self.told(name)["url"].split("?")[0].endswith("/record/"):
                self.to_visit(name)
                self.to_record(name)
            self.at.call("press", name, "Record the visit")
            self.settle_conflict(name, "Keep what was sent now")
            if Visit.objects.filter(happened_on=made.TODAY).exists():
                return
            self.complete(name)
        raise AssertionError(f"the visit cannot be recorded: {self.told(name)['main'][:1500]}")

    def complete(self, name):
        """Pages of which a tab was killed between two answers: what is chosen there asks for what is missing."""
        for unit in range(1, len(self.refs) + 1):
            for step in GO_ON:
                if self.open_page(name, unit, step) and not self.at.call("seen", name, TYPED[step][0]):
                    if any(self.at.call("seen", name, field) for field, _ in TYPED[step][1]):
                        self.type_here(name)
                        self.go_on(name)

    def is_recorded(self):
        self.holds()
        assert Visit.objects.filter(happened_on=made.TODAY).count() == 1
        _, devices = self.where()
        for word, (_, step) in self.live.items():
            if re.search(rf"\b{word}\b", devices):
                continue  # typed after it was on record: the device has it, and says so
            if step in ON_RECORD:
                model, column = ON_RECORD[step]
                found = model.objects.filter(**{f"{column}__contains": word}).count()
                assert found == 1, f"{word} of {step} stands {found} times on record"
        for word in self.photos:
            if not re.search(rf"\b{word}\b", devices):
                found = Photo.objects.filter(caption=word).count()
                assert found == 1, f"the photo {word} stands {found} times on record"


@kept
def two_units() -> walked_device.Taken:
    world = made.make(units=2)
    with clock.at(made.NOW):
        groups = [world.units[:1], world.units]
        return walked_device.taken_along(world, world.units, groups, ["replace-seal", "replace-air-filter"])


@pytest.fixture
def devices(browser, settings, tmp_path):  # noqa: F811
    settings.BLOBS_DIR = tmp_path
    taken = two_units()
    clock.stand_at(made.NOW)
    with walked_device.judged_once():
        opened = walked_device.Devices(browser, walked_device.Server(taken))
        walked.update(world=taken.world, devices=opened, runs=0)
        yield opened
        opened.close()
    clock.stand_at(None)


@pytest.mark.skipif("STANDING_WALKS" not in os.environ, reason="takes long: on demand")
def test_nothing_is_lost_and_nothing_doubled_however_it_goes(devices):
    told = settings(
        max_examples=examples(WALKS), stateful_step_count=LONGEST, deadline=None, database=None,
        phases=[Phase.generate, Phase.shrink], suppress_health_check=list(HealthCheck), print_blob=False,
        report_multiple_bugs=False,
    )  # fmt: skip
    run_state_machine_as_test(Walk, settings=told)
    print(f"walks: {walked['runs']}")
    assert walked["runs"] >= min(examples(WALKS), 10)
