"""All addresses: entry forms and look-ups under records, judgement under audit."""

from django.contrib import admin
from django.urls import include, path

admin.autodiscover()

# Also what the database cannot take or give just now, wherever it was raised.
handler500 = "audit.site.trouble.fault"

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("audit.urls")),
    path("", include("records.urls")),
]
