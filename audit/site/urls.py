"""All addresses: entry forms and look-ups under records, judgement under audit."""

from django.contrib import admin
from django.urls import include, path

admin.autodiscover()

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("audit.urls")),
    path("", include("records.urls")),
]
