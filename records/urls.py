"""Addresses of the pages on which things are logged and looked up. All stand under one clinic."""

from django.urls import include, path

from records import views

of_clinic = [
    path("visits/log/", views.log_visit, name="log-visit"),
    path("visits/<uuid:ref>/", views.visit, name="visit"),
    path("spore-tests/log/", views.log_bio, name="log-bio"),
    path("spore-tests/<uuid:ref>/read/", views.read_bio, name="read-bio"),
    path("chemical-indicators/log/", views.log_chemical, name="log-chemical"),
    path("air-removal-tests/log/", views.log_air_removal, name="log-air-removal"),
    path("air-leak-tests/log/", views.log_leak, name="log-leak"),
    path("loads/log/", views.log_load, name="log-load"),
    path("user-checks/log/", views.log_user_check, name="log-user-check"),
    path("credentials/add/", views.add_credential, name="add-credential"),
    path("instruments/add/", views.add_instrument, name="add-instrument"),
    path("calibrations/log/", views.log_calibration, name="log-calibration"),
    path("part-recalls/log/", views.log_part_recall, name="log-part-recall"),
    path("indicator-lots/add/", views.add_indicator_lot, name="add-indicator-lot"),
    path("failures/<uuid:ref>/follow-up/", views.log_follow_up, name="log-follow-up"),
    path("follow-ups/<uuid:ref>/done/", views.follow_up_done, name="follow-up-done"),
    path("units/register/", views.register_unit, name="register-unit"),
    path("units/fit/", views.log_fit, name="log-fit"),
    path("units/<uuid:ref>/event/", views.unit_event, name="unit-event"),
    path("papers/add/", views.add_document, name="add-document"),
    path("papers/<uuid:ref>/", views.document, name="document"),
    path("closures/log/", views.log_closure, name="log-closure"),
    path("gaps/log/", views.log_gap, name="log-gap"),
    path("inspections/", views.inspections, name="inspections"),
    path("inspections/log/", views.log_inspection, name="log-inspection"),
    path("inspections/<uuid:ref>/point/", views.log_inspection_point, name="log-inspection-point"),
    path("inspections/points/<uuid:ref>/corrected/", views.point_met, name="point-met"),
    path("units/<uuid:ref>/fault/", views.report_fault, name="report-fault"),
    path("faults/<uuid:ref>/settled/", views.settle_fault, name="settle-fault"),
    path("getting-in/", views.site_access, name="site-access"),
    path("entries/", views.entries, name="entries"),
    path("records/<slug:kind>/<uuid:ref>/", views.record, name="record"),
    path("records/<slug:kind>/<uuid:ref>/correct/", views.correct, name="correct"),
    path("records/<slug:kind>/<uuid:ref>/entered-in-error/", views.void, name="void"),
    path("records/<slug:kind>/<uuid:ref>/sign/", views.sign, name="sign"),
    path("set-up/", views.set_up, name="set-up"),
    path("set-up/written/", views.clinic_written, name="clinic-written"),
    path("units/<uuid:ref>/plan/", views.plan, name="plan"),
    path("units/<uuid:ref>/plan/add/", views.add_plan_line, name="add-plan-line"),
    path("units/<uuid:ref>/plan/line/<slug:code>/", views.change_plan_line, name="change-plan-line"),
    path("units/<uuid:ref>/program/", views.add_program, name="add-program"),
    path("units/<uuid:ref>/place/", views.place_unit, name="place-unit"),
    path("units/<uuid:ref>/hand-over/", views.hand_over_unit, name="hand-over-unit"),
    path("units/<uuid:ref>/counter/", views.log_counter, name="log-counter"),
    path("duties/set/", views.log_local_duty, name="log-local-duty"),
    path("parts/add/", views.add_part, name="add-part"),
    path("part-lots/add/", views.add_part_lot, name="add-part-lot"),
]


def _of_place(kind: str):
    """The people and agreements of a clinic or a company."""
    own = {"kind": kind}
    return [
        path("people/", views.people, own, name=f"{kind}-people"),
        path("people/sign-ins/", views.sign_ins, own, name=f"{kind}-sign-ins"),
        path("people/invite/", views.invite, own, name=f"{kind}-invite"),
        path("people/agreement/", views.offer, own, name=f"{kind}-offer"),
        path("people/<uuid:ref>/end/", views.end_membership, own, name=f"{kind}-end-membership"),
        path("people/invitations/<uuid:ref>/withdraw/", views.withdraw, own, name=f"{kind}-withdraw"),
        path("people/agreements/<uuid:ref>/end/", views.end_agreement, own, name=f"{kind}-end-agreement"),
    ]


of_clinic += _of_place("clinic")

urlpatterns = [
    path("clinic/<slug:slug>/", include(of_clinic)),
    path("preferences/", views.written, name="preferences"),
    path("company/<slug:slug>/", include(_of_place("company"))),
    path("log-in/", views.my_log_in, name="my-log-in"),
    path("log-in/pass-phrase/", views.change_pass_phrase, name="change-pass-phrase"),
    path("log-in/second-factor/", views.second_factor, name="second-factor"),
    path("log-in/recovery-codes/", views.recovery_codes, name="recovery-codes"),
    path("log-in/passkeys/", views.passkeys_page, name="passkeys"),
    path("log-in/passkeys/make/", views.make_passkey, name="make-passkey"),
    path("log-in/passkeys/to-add/", views.passkey_to_add, name="passkey-to-add"),
    path("log-in/passkeys/to-sign/", views.passkey_to_sign, name="passkey-to-sign"),
    path("log-in/passkeys/<int:number>/", views.passkey, name="passkey"),
    path("log-in/sittings/end/", views.end_sitting, name="end-sitting"),
    path("forgotten/", views.forgotten, name="forgotten"),
    path("forgotten/<str:named>/<str:token>/", views.reset_pass_phrase, name="reset-pass-phrase"),
    path("invitation/<str:token>/", views.invitation, name="invitation"),
]
