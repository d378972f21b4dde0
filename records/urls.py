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
    path("entries/", views.entries, name="entries"),
    path("records/<slug:kind>/<uuid:ref>/", views.record, name="record"),
    path("records/<slug:kind>/<uuid:ref>/correct/", views.correct, name="correct"),
    path("records/<slug:kind>/<uuid:ref>/entered-in-error/", views.void, name="void"),
]

urlpatterns = [path("clinic/<slug:slug>/", include(of_clinic))]
