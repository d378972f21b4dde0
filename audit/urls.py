"""Addresses of the pages that show judgement."""

from django.urls import path

from audit import views

urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("clinic/<slug:slug>/", views.clinic_page, name="clinic"),
    path("clinic/<slug:slug>/binder.pdf", views.binder, name="binder"),
    path("clinic/<slug:slug>/answers/", views.answers_page, name="answers"),
    path("clinic/<slug:slug>/unit/<uuid:ref>/", views.unit_page, name="unit"),
    path("company/<slug:slug>/", views.company_page, name="company"),
    path("rules/", views.rules_list, name="rules"),
    path("rules/<slug:id>/", views.rules_page, name="rules-of"),
]
