"""`manage.py binder --all COMPANY`: what it reads and says. `audit.issue.jobs.all_clinics` does the work.

Files are made and signed. With `--by ACCOUNT` each is also kept and entered as issued by that account; without, the
record does not know of them, and the command says so.
"""

from __future__ import annotations

import hashlib
import os
import time
from pathlib import Path

from django.db.models import F

from audit.issue.jobs import all_clinics
from audit.issue.wish import Wish
from audit.management import options as o
from audit.models import BinderJob
from records import access
from records import models as m


def add_arguments(parser) -> None:
    """The arguments of `manage.py binder` that are about all clinics of a company."""
    parser.add_argument("--all", dest="all_of", metavar="COMPANY", help="all clinics that this company serves")
    parser.add_argument("--processes", type=int, help="with --all: how many at the same time; one a core if left out")
    parser.add_argument("--by", help="with --all: the account that issues them, so that each is entered as issued")


def refuse_alone(options) -> None:
    """Raises BadInput for what makes sense with `--all` only."""
    for name, given in (("--processes", options["processes"]), ("--by", options["by"])):
        if given is not None:
            raise o.BadInput(f"{name} goes with --all COMPANY. Leave it out, or name the company.")
    if not options["clinic"]:
        raise o.BadInput("Name a clinic by its short name, or all those of a company with --all COMPANY.")


def run(command, options) -> None:
    """Make them, tell of each as it is done, and leave: 0, 1 when one forbids use, 2 bad input, 3 when one failed."""
    try:
        company, account, clinics, wish, folder, processes = _read(options)
    except o.BadInput as error:
        o.refuse(command, error)
    started, over, fault = time.monotonic(), [], ""
    batch = all_clinics.ask(company, clinics, wish, folder, account)
    try:
        for job in all_clinics.work_off(batch, processes):
            over.append(job)
            command.stdout.write(f"{len(over)} of {len(clinics)}  {_line(job)}")
            command.stdout.flush()
    except all_clinics.NoWorkers as error:
        fault = str(error)
    seconds, failed = time.monotonic() - started, [job for job in over if job.problem]
    made = len(over) - len(failed)
    command.stdout.write(f"{company.name}: {made} of {len(clinics)} binders in {seconds:.1f} seconds")
    if not options["by"] and made:
        command.stdout.write(
            "They are signed but not issued: the record does not know of them. Name who issues them: --by ACCOUNT."
        )
    for job in failed:
        command.stderr.write(f"Not made: {job.clinic.slug}. {job.problem}")
    if fault:
        command.stderr.write(fault)
    o.end(command, 3 if failed or fault else 1 if any(job.made["forbidding"] for job in over) else 0)


def _line(job: BinderJob) -> str:
    slug, made = job.clinic.slug, job.made
    if job.problem:
        return f"{slug}: not made"
    said = f"{slug}: {made['pages']} pages, {made['seconds']:.2f} seconds, {job.file}"
    if job.issue_ref:
        said += f", entry {m.BinderIssue.objects.select_related('entry').get(ref=job.issue_ref).entry.number}"
    said += f", forbids use: {made['forbidding']}" if made["forbidding"] else ""
    return f"{said}, SHA-256 {hashlib.sha256(Path(job.file).read_bytes()).hexdigest()}"


def _read(options) -> tuple:
    """Company, account or None, clinics, wish, folder and processes. Raises BadInput; nothing was written then."""
    from audit.issue.seal.keys import NoKey, load_key

    if options["clinic"]:
        raise o.BadInput(f"Name a clinic or --all, not both: {options['clinic']} and --all {options['all_of']}.")
    if options["unsigned"]:
        raise o.BadInput("--unsigned is for one clinic: with --all every file is signed. Leave it out.")
    company = company_by_slug(options["all_of"])
    account = _account(options["by"], company) if options["by"] else None
    processes = options["processes"] if options["processes"] is not None else os.cpu_count() or 1
    if not 1 <= processes <= 64:
        raise o.BadInput("--processes: choose a number from 1 to 64, at most one for each core.")
    try:
        load_key()
    except NoKey as problem:
        raise o.BadInput(str(problem)) from None
    wish = Wish(*o.binder_days(options), options["page"], options["extent"])
    # Those with the longest record first: they take longest, and the last one is not waited for alone.
    clinics = list(access.clinics_of_company(company).order_by(F("ledger__number").desc(nulls_last=True), "slug"))
    if not clinics:
        raise o.BadInput(f"{company.name} serves no clinic today: none has an agreement with it. No binder is made.")
    folder = _folder(options["out"])
    return company, account, clinics, wish, folder, min(processes, len(clinics))


def company_by_slug(slug: str) -> m.ServiceCompany:
    """Raises BadInput with the companies there are."""
    found = m.ServiceCompany.objects.filter(slug=slug).first()
    if found is None:
        known = ", ".join(m.ServiceCompany.objects.order_by("slug").values_list("slug", flat=True))
        raise o.BadInput(
            f"There is no service company “{slug}”. " + (f"Known: {known}." if known else "None is yet.")
        )
    return found


def _account(name: str, company) -> m.Account:
    account = m.Account.objects.filter(username=name, is_active=True).first()
    if account is None:
        raise o.BadInput(f"--by: there is no account “{name}” that may sign in. Write the name it signs in with.")
    if not access.may_log_for(account, company):
        raise o.BadInput(
            f"--by: {account.full_name} may not record for {company.name} today, so cannot issue its binders."
        )
    return account


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise o.BadInput(
            f"--out “{path}” cannot be a folder: {error.strerror}. With --all, name a folder that you may write to."
        ) from None
    if not os.access(path, os.W_OK | os.X_OK):
        raise o.BadInput(f"--out “{path}” may not be written to. Name a folder that you may write to.")
    return path
