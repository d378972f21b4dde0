"""The only writers. Every one takes keyword arguments, `by` (the account) and `request_key` (a UUID made by the
sender: the same key twice is the same entry), and either writes all of one entry or raises and writes nothing.

Raises: Refused (what, why, the way out, by field), NotYours, SubmissionConflict.
"""

from .binders import (
    end_inspector_link,
    enter_openings,
    log_binder_issue,
    log_inspector_link,
    log_link_opening,
)
from .books import log_calibration, log_credential, log_instrument, log_part_recall
from .changes import correct, void
from .documents import log_document
from .erasures import erase_name
from .errors import NotYours, Problem, Refused, SubmissionConflict
from .field import log_advice, log_photo
from .indicators import (
    log_air_removal,
    log_chemical,
    log_indicator_lot,
    log_leak,
    log_user_check,
    read_bio_test,
    start_bio_test,
)
from .inspections import log_inspection, log_inspection_point, log_point_met
from .kits import log_kit, receive_kit
from .lending import lend_unit, take_back
from .loads import log_load, release_load
from .loaners import end_pool_unit, log_pool_unit
from .moves import hand_over_unit
from .organisations import (
    end_agreement,
    end_membership,
    first_day,
    log_agreement,
    log_closure,
    log_gap,
    log_local_duty,
    log_membership,
    log_terms,
    open_clinic,
    open_company,
    open_served_clinic,
)
from .parts import log_part, log_part_lot
from .programs import log_program
from .recordings import log_recording
from .response import complete_follow_up, log_follow_up
from .signatures import sign
from .stock import log_recall_told, log_stock_move, log_stock_place
from .template_units import register_from_template, take_edition
from .templates import log_template
from .units import log_counter, log_fit, log_plan_line, log_unit_event, place_unit, register_unit
from .visits import log_visit
from .work import agree_visit, agreements_standing, call_off_visit, report_fault, settle_fault

__all__ = [
    "NotYours", "Problem", "Refused", "SubmissionConflict", "agree_visit", "agreements_standing", "call_off_visit",
    "complete_follow_up", "correct", "end_agreement", "end_inspector_link", "end_membership", "end_pool_unit",
    "enter_openings", "erase_name", "first_day", "hand_over_unit", "lend_unit", "log_advice", "log_agreement",
    "log_air_removal", "log_binder_issue", "log_calibration", "log_chemical", "log_closure", "log_counter",
    "log_credential", "log_document", "log_fit", "log_follow_up", "log_gap", "log_indicator_lot", "log_inspection",
    "log_inspection_point", "log_inspector_link", "log_instrument", "log_kit", "log_leak", "log_link_opening",
    "log_load", "log_local_duty", "log_membership", "log_part", "log_part_lot", "log_part_recall", "log_photo",
    "log_plan_line", "log_point_met", "log_pool_unit", "log_program", "log_recall_told", "log_recording",
    "log_stock_move",
    "log_stock_place", "log_template", "log_terms", "log_unit_event", "log_user_check", "log_visit", "open_clinic",
    "open_company", "open_served_clinic", "place_unit", "read_bio_test", "receive_kit", "register_from_template",
    "register_unit", "release_load", "report_fault", "settle_fault", "sign", "start_bio_test", "take_back",
    "take_edition", "void",
]  # fmt: skip
