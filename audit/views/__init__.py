"""Pages that show judgement, by subject. They read; what is entered is entered on the pages of `records`."""

from .clinic import binder, clinic_page
from .company import company_page
from .home import home
from .sign import sign_in, sign_out
from .unit import unit_page

__all__ = ["binder", "clinic_page", "company_page", "home", "sign_in", "sign_out", "unit_page"]
