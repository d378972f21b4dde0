"""Addresses of the pages on which things are logged and looked up. All stand under one clinic."""

from django.urls import include, path

from records.views import (
    books,
    follow_up,
    inspections,
    invitation,
    log_in,
    lookup,
    monitoring,
    papers,
    passkeys,
    people,
    preferences,
    set_up,
    sign,
    templates,
    units,
    visits,
    work,
)

of_clinic = [
    path("visits/log/", visits.log_visit, name="log-visit"),
    path("visits/<uuid:ref>/", visits.visit, name="visit"),
    path("spore-tests/log/", monitoring.log_bio, name="log-bio"),
    path("spore-tests/<uuid:ref>/read/", monitoring.read_bio, name="read-bio"),
    path("chemical-indicators/log/", monitoring.log_chemical, name="log-chemical"),
    path("air-removal-tests/log/", monitoring.log_air_removal, name="log-air-removal"),
    path("air-leak-tests/log/", monitoring.log_leak, name="log-leak"),
    path("loads/log/", monitoring.log_load, name="log-load"),
    path("user-checks/log/", monitoring.log_user_check, name="log-user-check"),
    path("credentials/add/", books.add_credential, name="add-credential"),
    path("instruments/add/", books.add_instrument, name="add-instrument"),
    path("calibrations/log/", books.log_calibration, name="log-calibration"),
    path("part-recalls/log/", books.log_part_recall, name="log-part-recall"),
    path("indicator-lots/add/", monitoring.add_indicator_lot, name="add-indicator-lot"),
    path("failures/<uuid:ref>/follow-up/", follow_up.log_follow_up, name="log-follow-up"),
    path("follow-ups/<uuid:ref>/done/", follow_up.follow_up_done, name="follow-up-done"),
    path("units/register/", units.register_unit, name="register-unit"),
    path("units/register/from/<uuid:ref>/", templates.register_from, name="register-from"),
    path("units/<uuid:ref>/template/", templates.take_edition, name="take-edition"),
    path("units/fit/", units.log_fit, name="log-fit"),
    path("units/<uuid:ref>/event/", units.unit_event, name="unit-event"),
    path("papers/add/", papers.add_document, name="add-document"),
    path("papers/<uuid:ref>/", papers.document, name="document"),
    path("closures/log/", papers.log_closure, name="log-closure"),
    path("gaps/log/", papers.log_gap, name="log-gap"),
    path("inspections/", inspections.inspections, name="inspections"),
    path("inspections/log/", inspections.log_inspection, name="log-inspection"),
    path("inspections/<uuid:ref>/point/", inspections.log_inspection_point, name="log-inspection-point"),
    path("inspections/points/<uuid:ref>/corrected/", inspections.point_met, name="point-met"),
    path("units/<uuid:ref>/fault/", work.report_fault, name="report-fault"),
    path("faults/<uuid:ref>/settled/", work.settle_fault, name="settle-fault"),
    path("getting-in/", work.site_access, name="site-access"),
    path("entries/", lookup.entries, name="entries"),
    path("records/<slug:kind>/<uuid:ref>/", lookup.record, name="record"),
    path("records/<slug:kind>/<uuid:ref>/correct/", lookup.correct, name="correct"),
    path("records/<slug:kind>/<uuid:ref>/entered-in-error/", lookup.void, name="void"),
    path("records/<slug:kind>/<uuid:ref>/sign/", sign.sign, name="sign"),
    path("set-up/", set_up.set_up, name="set-up"),
    path("set-up/written/", preferences.clinic_written, name="clinic-written"),
    path("units/<uuid:ref>/plan/", set_up.plan, name="plan"),
    path("units/<uuid:ref>/plan/add/", set_up.add_plan_line, name="add-plan-line"),
    path("units/<uuid:ref>/plan/line/<slug:code>/", set_up.change_plan_line, name="change-plan-line"),
    path("units/<uuid:ref>/program/", units.add_program, name="add-program"),
    path("units/<uuid:ref>/place/", set_up.place_unit, name="place-unit"),
    path("units/<uuid:ref>/hand-over/", set_up.hand_over_unit, name="hand-over-unit"),
    path("units/<uuid:ref>/counter/", set_up.log_counter, name="log-counter"),
    path("duties/set/", set_up.log_local_duty, name="log-local-duty"),
    path("parts/add/", set_up.add_part, name="add-part"),
    path("part-lots/add/", set_up.add_part_lot, name="add-part-lot"),
]


def _of_place(kind: str):
    """The people and agreements of a clinic or a company."""
    own = {"kind": kind}
    return [
        path("people/", people.people, own, name=f"{kind}-people"),
        path("people/sign-ins/", log_in.sign_ins, own, name=f"{kind}-sign-ins"),
        path("people/invite/", people.invite, own, name=f"{kind}-invite"),
        path("people/agreement/", people.offer, own, name=f"{kind}-offer"),
        path("people/<uuid:ref>/end/", people.end_membership, own, name=f"{kind}-end-membership"),
        path("people/invitations/<uuid:ref>/withdraw/", people.withdraw, own, name=f"{kind}-withdraw"),
        path("people/agreements/<uuid:ref>/end/", people.end_agreement, own, name=f"{kind}-end-agreement"),
    ]


of_clinic += _of_place("clinic")

urlpatterns = [
    path("clinic/<slug:slug>/", include(of_clinic)),
    path("preferences/", preferences.written, name="preferences"),
    path("company/<slug:slug>/", include(_of_place("company"))),
    path("log-in/", log_in.my_log_in, name="my-log-in"),
    path("log-in/pass-phrase/", log_in.change_pass_phrase, name="change-pass-phrase"),
    path("log-in/second-factor/", log_in.second_factor, name="second-factor"),
    path("log-in/recovery-codes/", log_in.recovery_codes, name="recovery-codes"),
    path("log-in/passkeys/", passkeys.passkeys_page, name="passkeys"),
    path("log-in/passkeys/make/", passkeys.make_passkey, name="make-passkey"),
    path("log-in/passkeys/to-add/", passkeys.passkey_to_add, name="passkey-to-add"),
    path("log-in/passkeys/to-sign/", passkeys.passkey_to_sign, name="passkey-to-sign"),
    path("log-in/passkeys/<int:number>/", passkeys.passkey, name="passkey"),
    path("log-in/sittings/end/", log_in.end_sitting, name="end-sitting"),
    path("forgotten/", log_in.forgotten, name="forgotten"),
    path("forgotten/<str:named>/<str:token>/", log_in.reset_pass_phrase, name="reset-pass-phrase"),
    path("invitation/<str:token>/", invitation.invitation, name="invitation"),
]
