"""All addresses: entry forms and look-ups under records, judgement under audit."""

from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView

admin.autodiscover()

# Also what the database cannot take or give just now, wherever it was raised.
handler500 = "audit.site.trouble.fault"

urlpatterns = [
    # One door: limits and second factor are asked for there, so the administrator's site has none of its own.
    path("admin/login/", RedirectView.as_view(pattern_name="sign-in", query_string=True)),
    path("admin/", admin.site.urls),
    path("", include("audit.urls")),
    path("", include("records.urls")),
]
