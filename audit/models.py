"""What judgement keeps beside the record: the stored standing, a cache, and binders being made. Never evidence."""

from __future__ import annotations

import uuid

from django.db import models


class Standing(models.Model):
    """The answer for one unit at one clinic on one day, with what it was computed from."""

    unit = models.ForeignKey("records.Unit", models.CASCADE, related_name="+")
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    unit_ref = models.UUIDField()
    label = models.CharField(max_length=60)
    serial = models.CharField(max_length=60)
    model = models.CharField(max_length=250)
    equipment_type = models.CharField(max_length=30)
    room = models.CharField(max_length=120, blank=True)
    word = models.CharField(max_length=30, db_index=True)
    rule = models.CharField(max_length=4)
    reason = models.TextField()
    since = models.DateField(null=True)
    holds_until = models.DateField(null=True)
    next_due_on = models.DateField(null=True, db_index=True)
    next_due_title = models.CharField(max_length=200, blank=True)
    open_items = models.PositiveSmallIntegerField(default=0)
    # How much the answer weighs: 0 forbids, then what waits, is limited, late, in service, not in use.
    rank = models.PositiveSmallIntegerField(default=0, db_default=0, db_index=True)
    short = models.TextField(blank=True, default="", db_default="")  # the reason in short
    next_who = models.CharField(max_length=40, blank=True, default="", db_default="")
    next_what = models.TextField(blank=True, default="", db_default="")  # "" where nothing is to be done
    next_by = models.DateField(null=True)  # the last day in time
    next_late = models.PositiveSmallIntegerField(default=0, db_default=0)  # whole days late on `as_of`
    as_of = models.DateField()
    heads = models.CharField(max_length=64, default="")  # digest of every ledger that it rests on
    becomes = models.CharField(max_length=200, blank=True, default="")  # the answer on that day, and why
    rules = models.CharField(max_length=64)
    # Over all that it says and what it was made from: a row that does not carry its own mark is judged again.
    mark = models.CharField(max_length=64, default="", db_default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["clinic", "unit"], name="one_standing_a_unit")]

    def __str__(self):
        return f"{self.label}: {self.word}"


class BinderJob(models.Model):
    """A binder that was asked for: working state, overwritten as it is made. The evidence is the `BinderIssue`.

    Without `asked_by` it is made and signed for `file` and not issued: the record does not know of it. `file` is
    where the signed binder is written too, "" when it is kept only. A `draft` is neither signed nor issued: its file
    is kept for a while (`audit.issue.jobs.drafts`). `made` is what a worker made: pages, seconds, and forbidding, the
    number of what forbids use; of a draft its sha256 and size in bytes too.

    `heartbeat` and `called_at` are real moments, whatever moment the site stands at: they tell whether a process is
    alive. Every other moment is the site's.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RUNNING = "running", "being made"
        DONE = "done", "issued"
        FAILED = "failed", "not made"

    ref = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    from_on = models.DateField()
    to_on = models.DateField()
    as_of = models.DateField()
    known_at = models.DateTimeField(null=True)
    page = models.CharField(max_length=8)
    extent = models.CharField(max_length=12, default="inspector", db_default="inspector")
    asked_by = models.ForeignKey("records.Account", models.CASCADE, null=True, related_name="+")
    file = models.CharField(max_length=1000, blank=True, default="")
    asked_at = models.DateTimeField()
    draft = models.BooleanField(default=False, db_default=False)
    company = models.ForeignKey("records.ServiceCompany", models.CASCADE, null=True, related_name="+")
    batch = models.UUIDField(null=True, db_index=True)

    state = models.CharField(max_length=8, choices=State, default=State.WAITING, db_index=True)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    what = models.CharField(max_length=200, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    worker = models.CharField(max_length=200, blank=True)
    heartbeat = models.DateTimeField(null=True)
    called_at = models.DateTimeField(null=True)
    problem = models.TextField(blank=True)
    issue_ref = models.UUIDField(null=True)
    made = models.JSONField(default=dict)
    ended_at = models.DateTimeField(null=True)

    def __str__(self):
        return f"{self.clinic}, {self.from_on} to {self.to_on}: {self.said}"

    @property
    def said(self) -> str:
        """The state in words: a draft is ready, never issued."""
        return "ready" if self.draft and self.state == self.State.DONE else self.get_state_display()

    @property
    def is_over(self) -> bool:
        return self.state in (self.State.DONE, self.State.FAILED)


class VisitDraft(models.Model):
    """A visit as it is typed: working state, overwritten until it is recorded. It can be taken up on another device.

    `content` is what the form holds; `revision` grows with each save, and a save names the revision it began from.
    """

    ref = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    account = models.ForeignKey("records.Account", models.CASCADE, related_name="+")
    request_key = models.UUIDField(unique=True, default=uuid.uuid4)
    units = models.JSONField(default=list)
    content = models.JSONField(default=dict)
    revision = models.PositiveIntegerField(default=0)
    device = models.CharField(max_length=200, blank=True)
    begun_at = models.DateTimeField()
    saved_at = models.DateTimeField()
    recorded_at = models.DateTimeField(null=True)
    visit = models.UUIDField(null=True)

    def __str__(self):
        return f"{self.clinic}, begun {self.begun_at:%Y-%m-%d}"


class PlannedStop(models.Model):
    """Who of a company goes to a clinic on which day, at what time, as which stop of that day. Working state.

    A plan and no fact: written over as it changes, with who changed it last. That the day was agreed with the clinic,
    moved or called off are facts (`records.models.VisitAgreed`); `agreed` is the origin of the agreement that it
    stands on, None while the clinic does not know of it. `given_to` None: nobody yet. `place` orders the stops of one
    person and day, the smallest first.
    """

    company = models.ForeignKey("records.ServiceCompany", models.CASCADE, related_name="+")
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    given_to = models.ForeignKey("records.Account", models.SET_NULL, null=True, blank=True, related_name="+")
    on = models.DateField()
    hour = models.CharField(max_length=60, blank=True, default="")
    place = models.PositiveSmallIntegerField(default=0)
    agreed = models.UUIDField(null=True, blank=True)
    changed_by = models.ForeignKey("records.Account", models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ("on", "given_to_id", "place", "id")
        indexes = [models.Index(fields=["company", "on"], name="stops_of_a_day")]

    def __str__(self):
        return f"{self.clinic}, {self.on}"


class PlannedWork(models.Model):
    """One thing that is owed and stands on a planned stop. Working state: it names what is computed and copies none.

    `unit` is the unit's origin and `item` the id of the work (`audit.planning.round.WorkItem`). What is done or
    falls away stays here unused; what is owed is only ever computed.
    """

    stop = models.ForeignKey(PlannedStop, models.CASCADE, related_name="works")
    unit = models.UUIDField()
    item = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["stop", "unit", "item"], name="once_on_a_stop")]

    def __str__(self):
        return self.item


class CalendarFeed(models.Model):
    """A person's own calendar address. Only the SHA-256 of its token is kept; making a new one ends the old one."""

    account = models.OneToOneField("records.Account", models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()


class MailDigest(models.Model):
    """Whether somebody wants mail of what is due, and when it was last sent."""

    account = models.OneToOneField("records.Account", models.CASCADE, related_name="+")
    every = models.CharField(max_length=8, default="never")  # never, day, week
    sent_on = models.DateField(null=True)


class ReportMail(models.Model):
    """The report of a visit as it goes to one of the clinic's people by mail, once. Working state, no fact.

    `visit` is the origin of the visit; what each `state` means stands in `audit.issue.report_mail`.
    """

    visit = models.UUIDField()
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    account = models.ForeignKey("records.Account", models.CASCADE, related_name="+")
    state = models.CharField(max_length=12)
    problem = models.CharField(max_length=300, blank=True, default="")
    queued_at = models.DateTimeField()
    tried_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "account"], name="one_report_mail_a_person")]

    def __str__(self):
        return f"{self.account}: {self.state}"


class FactsCache(models.Model):
    """The facts of a clinic as last read: a cache, never evidence. Right only while the ledgers stand at `heads`."""

    clinic = models.OneToOneField("records.Clinic", models.CASCADE, related_name="+")
    heads = models.TextField()
    payload = models.BinaryField()
    made_at = models.DateTimeField()


class BroughtTable(models.Model):
    """A table from elsewhere on its way into the record: working state, overwritten until its rows are recorded.

    `cells` is the file as read (`records.files.table_file.packed`, compressed), `mapping` what its columns hold
    (`records.brought.mapping`), `source` who wrote it and where the paper lies, `found` what judging it showed.
    `step` is what is wanted of a worker: the rows judged, or recorded. `heartbeat` and `called_at` are real moments,
    as of a `BinderJob`. `entries` are the numbers of the entries that it became.
    """

    class State(models.TextChoices):
        MAPPING = "mapping", "its columns are being chosen"
        WAITING = "waiting", "waiting"
        RUNNING = "running", "being read"
        JUDGED = "judged", "looked through, not recorded yet"
        DONE = "done", "recorded"
        FAILED = "failed", "not recorded"

    ref = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    account = models.ForeignKey("records.Account", models.CASCADE, related_name="+")
    kind = models.CharField(max_length=24)
    filename = models.CharField(max_length=200)
    cells = models.BinaryField()
    rows = models.PositiveIntegerField(default=0)
    mapping = models.JSONField(default=dict)
    source = models.JSONField(default=dict)
    picture = models.BinaryField(null=True)
    confirmed = models.JSONField(default=list)
    aside = models.JSONField(default=dict)  # by row what is wrong with it
    found = models.JSONField(default=dict)
    asked_at = models.DateTimeField()

    step = models.CharField(max_length=8, default="judge")
    state = models.CharField(max_length=8, choices=State, default=State.MAPPING, db_index=True)
    done = models.PositiveIntegerField(default=0)
    attempts = models.PositiveSmallIntegerField(default=0)
    worker = models.CharField(max_length=200, blank=True)
    heartbeat = models.DateTimeField(null=True)
    called_at = models.DateTimeField(null=True)
    problem = models.TextField(blank=True)
    entries = models.JSONField(default=list)
    ended_at = models.DateTimeField(null=True)

    def __str__(self):
        return f"{self.filename}: {self.get_state_display()}"


class RememberedColumns(models.Model):
    """What the columns of tables with the same heads hold, as the clinic last chose it. Working state, no fact."""

    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    heads = models.CharField(max_length=64)  # `records.brought.mapping.digest_of`
    mapping = models.JSONField()
    used_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["clinic", "heads"], name="one_mapping_of_heads")]


class CycleVerdict(models.Model):
    """How the program judged the file of a recorded cycle: a cache, never evidence, and worked out again if lost.

    Right only while the code that judges is `program`. `least` is the least temperature in °C that the load's program
    needed, as text, "" for none; with the file it decides the profile.
    """

    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    sha256 = models.CharField(max_length=64)
    least = models.CharField(max_length=20)
    program = models.CharField(max_length=64)
    said = models.JSONField()  # verdict, words, profile, held, least
    mark = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "sha256", "least"], name="one_verdict_a_cycle_and_need")
        ]

    def __str__(self):
        return f"{self.sha256[:8]}: {self.said['verdict']}"


class RecordOut(models.Model):
    """Everything of a clinic as one file, asked for on a page: working state, overwritten as it is made.

    The file is kept for a while (`audit.issue.whole.jobs`) and then swept; `made` says what it is: sha256, size in
    bytes, entries, head, files, lost, seconds. `heartbeat` and `called_at` are real moments, as of a `BinderJob`.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RUNNING = "running", "being made"
        DONE = "done", "ready"
        FAILED = "failed", "not made"

    ref = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    asked_by = models.ForeignKey("records.Account", models.CASCADE, related_name="+")
    asked_at = models.DateTimeField()

    state = models.CharField(max_length=8, choices=State, default=State.WAITING, db_index=True)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    what = models.CharField(max_length=200, blank=True, default="")
    attempts = models.PositiveSmallIntegerField(default=0)
    worker = models.CharField(max_length=200, blank=True, default="")
    heartbeat = models.DateTimeField(null=True)
    called_at = models.DateTimeField(null=True)
    problem = models.TextField(blank=True, default="")
    made = models.JSONField(default=dict)
    ended_at = models.DateTimeField(null=True)

    def __str__(self):
        return f"{self.clinic}, asked for {self.asked_at:%Y-%m-%d}: {self.get_state_display()}"

    @property
    def is_over(self) -> bool:
        return self.state in (self.State.DONE, self.State.FAILED)


class BroughtLedger(models.Model):
    """A ledger that was brought in as entries of another installation, beside the record: where it came from.

    `entries` are hashes by number where only some of its entries were brought, {} where all were. `mark` is over all
    of it: a row that does not carry its own mark says nothing, and then every gap of that ledger is a fault.
    """

    organisation = models.OneToOneField("records.Organisation", models.CASCADE, related_name="+")
    entries = models.JSONField(default=dict)
    last = models.PositiveIntegerField()  # number of the last entry brought
    made_at = models.CharField(max_length=40)  # as the file says
    made_by = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)  # of the file's list of contents
    brought_at = models.DateTimeField()
    brought_by = models.CharField(max_length=200)
    mark = models.BinaryField()

    def __str__(self):
        return f"{self.organisation}: up to entry {self.last}, from elsewhere"
