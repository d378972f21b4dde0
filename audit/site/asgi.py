"""The ASGI entry point."""

import os

from django.core.asgi import get_asgi_application

os.umask(0o077)  # the record is for nobody but the account that runs the program
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
application = get_asgi_application()
