"""Pages that show judgement, by subject. They read; what is entered is entered on the pages of `records`."""

from .answers import answers_page
from .clinic import binder, clinic_page
from .company import company_page
from .home import home
from .regimes import rules_list, rules_page
from .sign import sign_in, sign_out
from .unit import unit_page

__all__ = [
    "answers_page",
    "binder",
    "clinic_page",
    "company_page",
    "home",
    "rules_list",
    "rules_page",
    "sign_in",
    "sign_out",
    "unit_page",
]
