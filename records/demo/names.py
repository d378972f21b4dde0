"""What the names of a story stand for: "@steri-1" is the row that the event of that id wrote.

Inside a visit, `position` and `plan_line` are the codes of the job's unit.
"""

from __future__ import annotations

from pathlib import Path

from records.models import Account, FailureCase, Organisation, PlanLine, Position, Unit, fact_model

from .papers import paper
from .story import Story, StoryError, StoryEvent


class Names:
    """Rows by the name that the story gives them."""

    def __init__(self, story: Story, folder: Path):
        self.story, self.folder = story, folder
        self.rows: dict[str, object] = {}
        self.accounts = {a.username: a for a in Account.objects.select_related("person")}
        self.organisations = {}
        for row in Organisation.objects.select_related("clinic", "servicecompany"):
            self.organisations[row.slug] = getattr(row, "clinic", None) or row.servicecompany
        self.codes: dict[tuple, object] = {}

    def keep(self, name: str, row) -> None:
        self.rows[name] = row

    def account(self, username: str):
        return self._get(self.accounts, username, "account")

    def organisation(self, slug: str):
        return self._get(self.organisations, slug, "organisation")

    def row(self, name: str):
        """What "@name" stands for: an organisation, an account or the row an event wrote. Raises StoryError."""
        for found in (self.rows, self.organisations, self.accounts):
            if name in found:
                return found[name]
        raise StoryError(f"“@{name}” is not told before it is used. Check the name and the moments of logging.")

    @staticmethod
    def _get(found: dict, name: str, what: str):
        if name not in found:
            raise StoryError(f"There is no {what} “{name}” in story.toml. Add it, or mend the name.")
        return found[name]

    def resolved(self, event: StoryEvent) -> dict:
        """The event's arguments as a writer takes them."""
        args = {name: self._value(value) for name, value in event.args.items()}
        if event.do == "register_unit":
            args = self._registered(args)
        if event.do in ("correct", "void", "sign"):
            args["row"] = self._picked(args["row"], args.pop("pick", None))
        if event.do in ("log_follow_up",):
            args["case"] = self._case(args.pop("failure"))
        if event.do == "log_point_met":
            args["point"] = self._picked(args["point"], args.pop("pick", None))
        if event.do == "log_document":
            args["content"] = paper(args["title"], args.pop("text"), args["filename"])
        if event.do == "log_visit":
            args["jobs"] = [self._job(job) for job in args["jobs"]]
        unit = args.get("unit")
        if isinstance(unit, Unit):
            self._fill(args, unit)
        return args

    def _value(self, value):
        if isinstance(value, str) and value.startswith("@"):
            return self.row(value[1:])
        if isinstance(value, list):
            return [self._value(v) for v in value]
        if isinstance(value, dict):
            return {k: self._value(v) for k, v in value.items()}
        return value

    def _fill(self, values: dict, unit: Unit) -> None:
        """Codes of the unit become its rows."""
        if isinstance(values.get("position"), str):
            values["position"] = self._code(Position, unit, values["position"])
        if isinstance(values.get("plan_line"), str):
            values["plan_line"] = self._code(PlanLine, unit, values["plan_line"])

    def _code(self, model, unit: Unit, code: str):
        key = (model, unit.pk, code)
        if key not in self.codes:
            self.codes[key] = model.objects.origins().filter(unit=unit, code=code).first()
        if self.codes[key] is None:
            raise StoryError(f"{unit.label} has no {model._meta.verbose_name} “{code}”. See models.toml.")
        return self.codes[key]

    def _job(self, job: dict) -> dict:
        for leaves in job.values():
            for leaf in leaves if isinstance(leaves, list) else ():
                if isinstance(leaf, dict):
                    self._fill(leaf, job["unit"])
        return job

    def _registered(self, args: dict) -> dict:
        """A unit of a model of the story, with the model's positions and plan; `fit` says what differs."""
        model = self.story.models[args.pop("model")]
        fit, notes, plan_from = args.pop("fit", {}), args.pop("notes", {}), model["plan"]
        plate = ("maker", "model", "equipment_type", "chamber_litres")
        args["unit"] = {name: model[name] for name in plate} | args["unit"]
        args["positions"] = [
            {"fit": "yes", **p} | ({"fit": fit[p["code"]]} if p["code"] in fit else {})
            | ({"note": notes[p["code"]]} if p["code"] in notes else {})
            for p in model["positions"]
        ]  # fmt: skip
        args["plan"] = [{"source": model["source"], "edition": model["edition"], **line} for line in plan_from]
        return args

    def _picked(self, row, pick: dict | None):
        """A row of the entry that wrote `row`: of that kind, with those values."""
        if pick is None:
            return row
        values = {k: v for k, v in pick.items() if k != "kind"}
        found = list(fact_model(pick["kind"]).objects.filter(entry=row.entry, **values))
        if len(found) != 1:
            raise StoryError(f"{pick} picks {len(found)} rows of {row}; it must pick one.")
        return found[0]

    def _case(self, failing) -> FailureCase:
        case = FailureCase.objects.filter(opened_by=failing.origin).first()
        if case is None:
            raise StoryError(f"No failure case was opened by {failing}.")
        return case
