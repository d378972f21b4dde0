"""Pages that show judgement, by subject. They read; what is entered is entered on the pages of `records`."""

from .answers import answers_page
from .binders import binder_job, binders, issued_binder, make_binder
from .check import check_page
from .clinic import binder, clinic_page
from .company import company_page
from .company_binders import company_batch, company_binders
from .home import home
from .inspect import inspect, inspect_binder
from .links import end_link, links, make_link
from .regimes import rules_list, rules_page
from .sheets import sheets_file, sheets_page
from .sign import sign_in, sign_out
from .unit import unit_page

__all__ = [
    "answers_page",
    "binder",
    "binder_job",
    "binders",
    "check_page",
    "clinic_page",
    "company_batch",
    "company_binders",
    "company_page",
    "end_link",
    "home",
    "inspect",
    "inspect_binder",
    "issued_binder",
    "links",
    "make_binder",
    "make_link",
    "rules_list",
    "rules_page",
    "sheets_file",
    "sheets_page",
    "sign_in",
    "sign_out",
    "unit_page",
]
