"""Addresses of the pages that show judgement."""

from django.urls import path

from audit import views

urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("clinic/<slug:slug>/", views.clinic_page, name="clinic"),
    path("clinic/<slug:slug>/binder.pdf", views.binder, name="binder"),
    path("clinic/<slug:slug>/binders/", views.binders, name="binders"),
    path("clinic/<slug:slug>/binders/make/", views.make_binder, name="make-binder"),
    path("clinic/<slug:slug>/binders/<uuid:ref>/", views.binder_job, name="binder-job"),
    path("clinic/<slug:slug>/binders/issued/<uuid:ref>/binder.pdf", views.issued_binder, name="issued-binder"),
    path("clinic/<slug:slug>/binders/issued/<uuid:ref>/link/", views.make_link, name="make-link"),
    path("clinic/<slug:slug>/links/", views.links, name="links"),
    path("clinic/<slug:slug>/links/<uuid:ref>/end/", views.end_link, name="end-link"),
    path("clinic/<slug:slug>/sheets/", views.sheets_page, name="sheets"),
    path("clinic/<slug:slug>/sheets/<slug:kind>.pdf", views.sheets_file, name="sheets-file"),
    path("clinic/<slug:slug>/answers/", views.answers_page, name="answers"),
    path("clinic/<slug:slug>/unit/<uuid:ref>/", views.unit_page, name="unit"),
    path("company/<slug:slug>/", views.company_page, name="company"),
    path("company/<slug:slug>/binders/", views.company_binders, name="company-binders"),
    path("company/<slug:slug>/binders/<uuid:batch>/", views.company_batch, name="company-batch"),
    path("inspect/<str:token>/", views.inspect, name="inspect"),
    path("inspect/<str:token>/binder.pdf", views.inspect_binder, name="inspect-binder"),
    path("check/", views.check_page, name="check-binder"),
    path("rules/", views.rules_list, name="rules"),
    path("rules/<slug:id>/", views.rules_page, name="rules-of"),
]
