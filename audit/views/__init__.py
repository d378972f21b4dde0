"""Pages that show judgement, by subject. They read; what is entered is entered on the pages of `records`."""

from .answers import answers_page
from .binders import binder_job, binders, issued_binder, make_binder
from .check import check_page
from .clinic import binder, clinic_page
from .company import company_page
from .company_binders import company_batch, company_binders
from .desk import day_page
from .desk_entry import day_air_removal, day_checks, day_chemical, day_leak, day_load, day_read, day_start
from .desk_may import log_advice, may_be_used
from .desk_release import day_release
from .desk_response import response_page, response_wall
from .feed import calendar_file, my_calendar
from .home import home
from .inspect import inspect, inspect_binder
from .labels import labels_file, labels_page
from .links import end_link, links, make_link
from .mail import my_mail
from .offline import no_signal, service_worker, take_along, take_along_company, waiting, waiting_state
from .regimes import rules_list, rules_page
from .round import round_page, round_parts, round_sheets
from .scan import clinic_scan, labelled_unit, scan
from .search import search_page
from .sheets import sheets_file, sheets_page
from .sign import sign_in, sign_out
from .terms import log_terms
from .unit import unit_page
from .visit_photos import draft_photo, photo_file, visit_photo
from .visit_record import visit_record
from .visit_report import visit_report_file
from .visit_steps import throw_away, visit_begin, visit_draft, visit_step
from .visit_unbegun import unbegun_photo, unbegun_record, unbegun_step

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
    "no_signal",
    "service_worker",
    "take_along",
    "take_along_company",
    "waiting",
    "waiting_state",
    "day_page",
    "day_air_removal",
    "day_checks",
    "day_chemical",
    "day_leak",
    "day_load",
    "day_read",
    "day_release",
    "day_start",
    "log_advice",
    "may_be_used",
    "response_page",
    "response_wall",
    "calendar_file",
    "my_calendar",
    "my_mail",
    "search_page",
    "draft_photo",
    "photo_file",
    "throw_away",
    "unbegun_photo",
    "unbegun_record",
    "unbegun_step",
    "visit_begin",
    "visit_draft",
    "visit_photo",
    "visit_record",
    "visit_report_file",
    "visit_step",
    "round_page",
    "round_parts",
    "round_sheets",
    "clinic_scan",
    "labelled_unit",
    "labels_file",
    "labels_page",
    "scan",
    "log_terms",
]
