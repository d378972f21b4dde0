"""Pages on which things are logged and looked up. Thin: a form, a writer of `records.log`, and where to go next."""

from .books import add_credential, add_instrument, log_calibration, log_part_recall
from .follow_up import follow_up_done, log_follow_up
from .inspections import inspections, log_inspection, log_inspection_point, point_met
from .invitation import invitation
from .log_in import (
    change_pass_phrase,
    end_sitting,
    forgotten,
    my_log_in,
    recovery_codes,
    reset_pass_phrase,
    second_factor,
    sign_ins,
)
from .lookup import correct, entries, record, void
from .monitoring import (
    add_indicator_lot,
    log_air_removal,
    log_bio,
    log_chemical,
    log_leak,
    log_load,
    log_user_check,
    read_bio,
)
from .papers import add_document, document, log_closure, log_gap
from .passkeys import make_passkey, passkey, passkey_to_add, passkey_to_sign, passkeys_page
from .people import end_agreement, end_membership, invite, offer, people, withdraw
from .preferences import clinic_written, written
from .set_up import (
    add_part,
    add_part_lot,
    add_plan_line,
    change_plan_line,
    hand_over_unit,
    log_counter,
    log_local_duty,
    place_unit,
    plan,
    set_up,
)
from .sign import sign
from .units import add_program, log_fit, register_unit, unit_event
from .visits import log_visit, visit
from .work import report_fault, settle_fault, site_access

__all__ = [
    "add_credential", "add_instrument", "log_calibration", "log_part_recall", "log_user_check",
    "add_document", "add_indicator_lot", "correct", "document", "entries", "follow_up_done", "log_air_removal",
    "log_bio", "log_chemical", "log_closure", "log_fit", "log_follow_up", "log_gap", "log_leak", "log_load",
    "log_visit", "read_bio", "record", "register_unit", "unit_event", "visit", "void", "written", "clinic_written",
    "invitation", "end_agreement", "end_membership", "invite", "offer", "people", "withdraw",
    "add_part", "add_part_lot", "add_plan_line", "add_program", "change_plan_line", "log_counter", "log_local_duty",
    "place_unit",
    "hand_over_unit", "plan", "set_up",
    "change_pass_phrase", "end_sitting", "forgotten", "my_log_in", "reset_pass_phrase", "second_factor", "sign",
    "sign_ins", "make_passkey", "passkey", "passkey_to_add", "passkey_to_sign", "passkeys_page", "recovery_codes",
    "report_fault", "settle_fault", "site_access",
    "inspections", "log_inspection", "log_inspection_point", "point_met",
]  # fmt: skip
