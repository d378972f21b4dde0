"""`manage.py binder --all COMPANY`: the binders of every clinic that a company serves, in parallel processes.

Files are made and signed. With `--by ACCOUNT` each is also kept and entered as issued by that account; without, the
record does not know of them, and the command says so.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

from django.db.models import F

from audit.management import options as o
from records import access
from records import models as m

from .elsewhere import Order, Outcome, here, make_one, stand
from .queue import Wish


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
        company, orders, processes = _read(options)
    except o.BadInput as error:
        o.refuse(command, error)
    started, outcomes = time.monotonic(), []
    for outcome in make_all(orders, processes):
        outcomes.append(outcome)
        command.stdout.write(f"{len(outcomes)} of {len(orders)}  {_line(outcome)}")
        command.stdout.flush()
    seconds, failed = time.monotonic() - started, [each for each in outcomes if each.problem]
    made = len(outcomes) - len(failed)
    command.stdout.write(f"{company.name}: {made} of {len(orders)} binders in {seconds:.1f} seconds")
    if not options["by"] and made:
        command.stdout.write(
            "They are signed but not issued: the record does not know of them. Name who issues them: --by ACCOUNT."
        )
    for each in failed:
        command.stderr.write(f"Not made: {each.slug}. {each.problem}")
    o.end(command, 3 if failed else 1 if any(each.forbidding for each in outcomes) else 0)


def _line(outcome: Outcome) -> str:
    if outcome.problem:
        return f"{outcome.slug}: not made"
    said = f"{outcome.slug}: {outcome.pages} pages, {outcome.seconds:.2f} seconds, {outcome.file}"
    said += f", entry {outcome.entry}" if outcome.entry else ""
    said += f", forbids use: {outcome.forbidding}" if outcome.forbidding else ""
    return f"{said}, SHA-256 {outcome.sha256}"


def _read(options) -> tuple[m.ServiceCompany, list[Order], int]:
    """What is asked for. Raises BadInput; nothing was written then."""
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
    wish = Wish(*o.binder_days(options), options["page"])
    # Those with the longest record first: they take longest, and the last one is not waited for alone.
    clinics = list(access.clinics_of_company(company).order_by(F("ledger__number").desc(nulls_last=True), "slug"))
    if not clinics:
        raise o.BadInput(f"{company.name} serves no clinic today: none has an agreement with it. No binder is made.")
    folder = _folder(options["out"])
    days = (wish.from_on, wish.to_on, wish.as_of, wish.known_at, wish.page)
    by = account.username if account else ""
    orders = [Order(c.slug, *days, str(folder / f"{c.slug}-{wish.from_on}-to-{wish.to_on}.pdf"), by) for c in clinics]
    return company, orders, min(processes, len(orders))


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


# ------------------------------------------------------------------------------------------------- processes


def make_all(orders: list[Order], processes: int) -> Iterator[Outcome]:
    """Make them at the same time, each outcome as it comes. What fails takes nothing else with it.

    When a process is killed, whatever was not done by then is tried again, each in a process of its own; one that is
    killed there twice is given up.
    """
    left = {order.slug: order for order in orders}
    for outcome in _in_pool(orders, processes):
        left.pop(outcome.slug)
        yield outcome
    for order in left.values():
        # Twice: it may not have been begun when another one took the pool with it.
        yield from list(_in_pool([order], 1)) or list(_in_pool([order], 1)) or [_killed(order)]


def _in_pool(orders: list[Order], processes: int) -> Iterator[Outcome]:
    """The outcomes of those that came to an end; none of those whose process was killed."""
    spawn = multiprocessing.get_context("spawn")  # nothing of this process is shared: not its connections either
    with ProcessPoolExecutor(processes, mp_context=spawn, initializer=stand, initargs=(here(),)) as pool:
        for future in as_completed([pool.submit(make_one, order) for order in orders]):
            try:
                yield future.result()
            except BrokenProcessPool:
                continue


def _killed(order: Order) -> Outcome:
    return Outcome(
        order.slug,
        order.file,
        problem="The process that made it was killed, twice. The machine may be short of memory: make it with "
        "--processes 1, or for a shorter period.",
    )
