"""Templates of units, edition by edition, in the books of a company.

A row of an edition is never changed: what is different is the next edition. A unit keeps what was copied to it until
somebody takes the next edition over (`records.log.template_units`).
"""

from __future__ import annotations

from collections.abc import Iterator

from records import access, clock
from records.models import (
    TemplateKit,
    TemplateLine,
    TemplatePart,
    TemplatePosition,
    TemplateReading,
    UnitTemplate,
)

from . import may_be_logged
from .errors import InputPlace, NotYours, Problem
from .kit_rules import kits_of
from .submission import submission

PLATE = ("maker", "model", "equipment_type", "chamber_litres")
MOST_MONTHS = 600


def refuse_unless_service(by, owner) -> None:
    """Raises NotYours for who may not say what belongs to a type of unit: the owner's technicians and dispatchers."""
    if not access.may_visit_for(by, owner):
        raise NotYours(f"Templates of {owner.name} are made by its technicians and dispatchers. Ask one of them.")


def templates_of(*owners) -> list[UnitTemplate]:
    """The newest edition of each template in the owners' books, those not offered any more among them; by name."""
    rows = UnitTemplate.objects.in_force().filter(owner__in=[owner.pk for owner in owners])
    followed = rows.filter(instead_of__isnull=False).values("instead_of__origin")
    return list(rows.exclude(origin__in=followed).select_related("owner").order_by("name", "id"))


def offered(*owners) -> list[UnitTemplate]:
    """Those that a unit may be registered from."""
    return [template for template in templates_of(*owners) if not template.retired]


def editions(template: UnitTemplate) -> list[UnitTemplate]:
    """Every edition of the line that the given one belongs to, the first one first. One query."""
    rows = list(UnitTemplate.objects.in_force().filter(owner=template.owner_id).select_related("instead_of"))
    before = {row.origin: row.instead_of.origin if row.instead_of else None for row in rows}
    after = {origin: row for row in rows if (origin := before[row.origin])}
    first = template.origin
    while before.get(first):
        first = before[first]
    line = [row for row in rows if row.origin == first]
    while line and line[-1].origin in after:
        line.append(after[line[-1].origin])
    return line


def log_template(
    *, by, request_key, owner, name, maker, model, equipment_type, chamber_litres, source, source_edition="",
    positions=(), plan=(), parts=(), kits=(), readings=(), instead_of=None, changed="", retired=False,
) -> UnitTemplate:  # fmt: skip
    """An edition of a template, from today on: the first one, or the next one `instead_of` the edition before.

    Args:
        positions: dicts with `code`, `name`, `component`, `always`.
        plan: dicts of the fields of `TemplateLine`; `position` is a code of `positions` or ""; without `source` and
            `edition` a line has those of the template.
        parts: dicts with `part` (in the owner's books), `quantity`, `position` (a code or "").
        kits: kits of the owner's books.
        readings: dicts of the fields of `TemplateReading`.
        changed: of a next edition what is different in it.

    Raises Refused, NotYours, SubmissionConflict.
    """
    refuse_unless_service(by, owner)
    head = {"name": name.strip(), "maker": maker.strip(), "model": model.strip(), "equipment_type": equipment_type}
    head |= {"chamber_litres": chamber_litres, "source": source.strip(), "source_edition": source_edition.strip()}
    head |= {"instead_of": instead_of, "changed": changed.strip(), "retired": retired}
    rows = {"positions": list(positions), "plan": list(plan), "parts": list(parts), "readings": list(readings)}
    kits = list(kits)
    with submission(owner, by, request_key, "template of units", {**head, **rows, "kits": kits}) as s:
        if s.repeated:
            return s.first(UnitTemplate)
        problems = [*_head_problems(owner, head), *_row_problems(owner, rows, kits, head["source"])]
        may_be_logged.stop_on(problems)
        return _write(s, owner, head, rows, kits)


def _write(s, owner, head: dict, rows: dict, kits: list) -> UnitTemplate:
    zone, before = may_be_logged.zone_of(owner), head["instead_of"]
    common = {"owner_id": owner.pk, "happened_on": clock.today(zone), "zone": zone}
    template = s.add(UnitTemplate(edition=before.edition + 1 if before else 1, **head, **common))
    common["template"] = template
    places = {
        p["code"]: s.add(TemplatePosition(**common, **p), at=InputPlace() / "positions" / n)
        for n, p in enumerate(rows["positions"])
    }
    for n, line in enumerate(rows["plan"]):
        fields = {"source": template.source, "edition": template.source_edition} | _said(line)
        fields["position"] = places.get(line.get("position") or "")
        s.add(TemplateLine(**common, **fields), at=InputPlace() / "plan" / n)
    for n, each in enumerate(rows["parts"]):
        fields = _said(each) | {"position": places.get(each.get("position") or "")}
        s.add(TemplatePart(**common, **fields), at=InputPlace() / "parts" / n)
    for kit in kits:
        s.add(TemplateKit(kit=kit, **common))
    for n, reading in enumerate(rows["readings"]):
        s.add(TemplateReading(**common, **_said(reading)), at=InputPlace() / "readings" / n)
    return template


def _said(row: dict) -> dict:
    """What a row says, so that what it leaves out takes its default."""
    return {name: value for name, value in row.items() if value not in (None, "")}


def _head_problems(owner, head: dict) -> Iterator[Problem]:
    for name, words in (
        ("name", "What is the template called? Enter its name."),
        ("maker", "Which maker, as on the plate? Enter it."),
        ("model", "Which model, as on the plate? Enter it."),
        ("source", "Which document of the maker says all this? Name it."),
    ):
        if not head[name]:
            yield Problem(name, words)
    current = templates_of(owner)
    before = head["instead_of"]
    if before is not None:
        if before.origin not in {template.origin for template in current}:
            words = "Somebody made a later edition meanwhile, or it is not in your books. Open the list again."
            yield Problem("", words)
        if not head["changed"]:
            yield Problem("changed", "What is different from the edition before? Who looks after such a unit asks.")
        current = [template for template in current if template.origin != before.origin]
    for other in current:
        if other.name.casefold() == head["name"].casefold():
            yield Problem("name", f"There is a template called {other.name} already. Amend that one.")
        elif [_key(other.maker), _key(other.model)] == [_key(head["maker"]), _key(head["model"])]:
            yield Problem("model", f"{other.name} is for that maker and model already. Amend that one.")


def _key(text: str) -> str:
    return " ".join(text.casefold().split())


def _row_problems(owner, rows: dict, kits: list, source: str) -> Iterator[Problem]:
    codes = [p.get("code") for p in rows["positions"]]
    yield from _codes(rows["positions"], "positions", "position")
    yield from _codes(rows["plan"], "plan", "line of the plan")
    if not rows["plan"]:
        yield Problem("", "Nothing is planned in this template. Add at least one line out of the maker’s document.")
    for n, line in enumerate(rows["plan"]):
        yield from _line_problems(InputPlace() / "plan" / n, line, source)
    for kind in ("plan", "parts"):
        for n, row in enumerate(rows[kind]):
            if row.get("position") and row["position"] not in codes:
                words = f"No position has the code “{row['position']}”. Add it, or leave this blank."
                yield Problem(InputPlace() / kind / n / "position", words)
    for n, row in enumerate(rows["parts"]):
        at = InputPlace() / "parts" / n
        if row.get("part") is None or row["part"].owner_id != owner.pk:
            yield Problem(at / "part", "That part is not in your books. Add it first.")
        if row.get("quantity") == 0:
            yield Problem(at / "quantity", "How many belong there? At least one, or leave the row out.")
    known = {kit.origin for kit in kits_of(owner)} if kits else set()
    if any(kit.origin not in known for kit in kits):
        yield Problem("kits", "That kit is not in your books as it stands now. Open the kits again.")
    for n, row in enumerate(rows["readings"]):
        yield from _reading_problems(InputPlace() / "readings" / n, row)
    said = [(_key(row.get("quantity") or ""), _key(row.get("point") or "")) for row in rows["readings"]]
    for n, key in enumerate(said):
        if key in said[:n]:
            yield Problem(InputPlace() / "readings" / n / "quantity", "This reading stands there twice. Keep one.")


def _codes(rows: list, kind: str, word: str) -> Iterator[Problem]:
    seen = set()
    for n, row in enumerate(rows):
        if row.get("code") in seen:
            yield Problem(InputPlace() / kind / n / "code", f"This code is used twice. Give each {word} its own.")
        seen.add(row.get("code"))


def _line_problems(at: InputPlace, line: dict, source: str) -> Iterator[Problem]:
    limits = [line.get(name) for name in ("months", "cycles", "hours")]
    if 0 in limits:
        yield Problem(at / "months", "A limit of 0 would be due always. Leave it blank, or write 1 or more.")
    elif not any(limits) and not (line.get("rule") or "").strip():
        words = "Nothing says when this is due. Enter months, cycles or hours, or the rule in words."
        yield Problem(at / "months", words)
    if (line.get("months") or 0) > MOST_MONTHS:
        yield Problem(at / "months", f"At most {MOST_MONTHS} months. Check the number.")
    if not (line.get("source") or source):
        yield Problem(at / "source", "Which document says so? Name it here or above.")


def _reading_problems(at: InputPlace, row: dict) -> Iterator[Problem]:
    if not (row.get("quantity") or "").strip():
        yield Problem(at / "quantity", "What is measured? Name it, such as chamber temperature.")
    if not (row.get("unit_of_measure") or "").strip():
        yield Problem(at / "unit_of_measure", "In which unit of measure? Such as °C, kPa, minutes or Ω.")
    low, high = row.get("lower"), row.get("upper")
    if low is not None and high is not None and low > high:
        yield Problem(at / "upper", "The upper limit lies below the lower one. Check both numbers.")
    if (low is not None or high is not None) and not (row.get("limit_source") or "").strip():
        yield Problem(at / "limit_source", "A limit needs its source: which document and edition says so?")
