"""Settings. Everything that differs between a laptop and a server comes from the environment (see operating.md)."""

import os
from datetime import timedelta
from ipaddress import ip_network
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from audit.site import server

BASE_DIR = Path(__file__).resolve().parents[2]
DATA_DIR = Path(os.environ.get("STANDING_DATA", BASE_DIR / ".data"))

DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)


PRODUCTION = server.is_server(os.environ.get("STANDING_DEBUG", "1"))
DEBUG = not PRODUCTION
if PRODUCTION:
    server.refuse_unless_complete(os.environ)

# The defaults are good enough for a laptop; a server does not start without its own, see server.py.
SECRET_KEY = os.environ.get("STANDING_SECRET_KEY", server.LAPTOP_KEY)
ALLOWED_HOSTS = os.environ.get("STANDING_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [o for o in os.environ.get("STANDING_ORIGINS", "").split(",") if o]
# Whether a proxy stands before the program that sets X-Forwarded-Proto and adds the caller to X-Forwarded-For. Only
# then is either believed: whoever reaches the program directly may write there what they like.
BEHIND_PROXY = os.environ.get("STANDING_PROXY", "0") == "1"

INSTALLED_APPS = [
    "records",
    "audit",
    "django.contrib.admin.apps.SimpleAdminConfig",  # its pages are looked for with the addresses, not before
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
]
# django_tables2 and django_filters bring nothing but code and tags: commands that show no list do not import them.

MIDDLEWARE = [
    "audit.site.watched.WatchedMiddleware",
    "audit.site.request_log.RequestLogMiddleware",
    "audit.site.headers.HeadersMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "records.doors.sessions.SittingMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "records.writing.preferences.middleware",
    "audit.site.outbox.OutboxMiddleware",
    "audit.site.trouble.TroubleMiddleware",
]

ROOT_URLCONF = "audit.site.urls"
WSGI_APPLICATION = "audit.site.wsgi.application"
ASGI_APPLICATION = "audit.site.asgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
            "libraries": {"django_tables2": "django_tables2.templatetags.django_tables2"},
        },
    },
]

if os.environ.get("STANDING_DATABASE", "sqlite") == "postgresql":
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.postgresql",
            "NAME": os.environ.get("PGDATABASE", "standing"),
            "USER": os.environ.get("PGUSER", "standing"),
            "PASSWORD": os.environ.get("PGPASSWORD", ""),
            "HOST": os.environ.get("PGHOST", ""),
            "PORT": os.environ.get("PGPORT", ""),
        }
    }
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "standing.sqlite3",
            # IMMEDIATE takes the write lock at BEGIN, so two writers wait for each other instead of failing.
            "OPTIONS": {
                "transaction_mode": "IMMEDIATE",
                "timeout": 40,  # less than a device waits for its answer (outbox-send.js)
                "init_command": "PRAGMA journal_mode=WAL",
            },
            # A file, not memory: the tests prove what several processes do to it.
            "TEST": {"NAME": DATA_DIR / "test.sqlite3"},
        }
    }
ATOMIC_REQUESTS = False
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "records.Account"
AUTHENTICATION_BACKENDS = ["records.doors.backend.Door"]
# Sittings end so long after they began, and so long after they were last used, whichever comes first. What was typed
# on a device stays there, and is sent when its person signs in again.
SESSION_ENGINE = "records.doors.sessions"
SITTING_LONGEST = timedelta(hours=float(os.environ.get("STANDING_SITTING_HOURS", "12")))
SITTING_IDLE = timedelta(minutes=float(os.environ.get("STANDING_SITTING_IDLE_MINUTES", "120")))
SITTING_NOT_USED_BY = ("/waiting/state/", "/sw.js")
# Who is asked for a second factor: "nobody", "companies" (their people, and administrators) or "everybody". Whoever
# has one is always asked for it.
OVER_HTTPS = PRODUCTION and os.environ.get("STANDING_SSL_REDIRECT", "1") == "1"
SECOND_FACTOR = os.environ.get("STANDING_SECOND_FACTOR", "companies" if OVER_HTTPS else "nobody")
if SECOND_FACTOR not in ("nobody", "companies", "everybody"):
    raise ImproperlyConfigured(f"STANDING_SECOND_FACTOR is “{SECOND_FACTOR}”. Choose nobody, companies or everybody.")
PASSWORD_RESET_TIMEOUT = 4 * 3600
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "records.doors.phrases.PlainPhraseValidator"},
]

LANGUAGE_CODE = "en-us"
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = False

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(mode=0o700, exist_ok=True)  # whitenoise warns about a folder that is not there yet
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
# Mail of what is due is printed unless a server is named. SITE_ADDRESS is how a mail names this site.
EMAIL_BACKEND = os.environ.get("EMAIL_BACKEND", "django.core.mail.backends.console.EmailBackend")
EMAIL_HOST = os.environ.get("EMAIL_HOST", "localhost")
EMAIL_PORT = int(os.environ.get("EMAIL_PORT", "25"))
EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = os.environ.get("EMAIL_USE_TLS", "0") == "1"
EMAIL_USE_SSL = os.environ.get("EMAIL_USE_SSL", "0") == "1"
EMAIL_TIMEOUT = 30
DEFAULT_FROM_EMAIL = os.environ.get("EMAIL_FROM", "unit-standing@localhost")
SITE_ADDRESS = os.environ.get("STANDING_ADDRESS", "http://localhost:8000")
BLOBS_DIR = DATA_DIR / "blobs"
# How much one account, and one clinic, may have kept of papers and photos in a day. The largest paper has 20 MiB.
UPLOADS_ACCOUNT_MIB = server.whole_number(
    "STANDING_UPLOADS_ACCOUNT_MIB", os.environ.get("STANDING_UPLOADS_ACCOUNT_MIB", "1024"), least=20
)
UPLOADS_CLINIC_MIB = server.whole_number(
    "STANDING_UPLOADS_CLINIC_MIB", os.environ.get("STANDING_UPLOADS_CLINIC_MIB", "2048"), least=20
)
# Who starts the processes that make binders, and how many of them: "page", or "none" where `make_binders` runs.
BINDER_WORKER = os.environ.get("STANDING_WORKER", "page")
if BINDER_WORKER not in ("page", "none"):
    raise ImproperlyConfigured(f"STANDING_WORKER is “{BINDER_WORKER}”. Choose “page” or “none”.")
BINDER_PROCESSES = int(os.environ.get("STANDING_BINDER_PROCESSES", str(max(1, (os.cpu_count() or 1) // 2))))
# A worker that was not heard for so long is gone, and another one takes its binder up again.
BINDER_SILENCE_SECONDS = float(os.environ.get("STANDING_BINDER_SILENCE", "30"))
# The file of a draft is kept for so many hours after it was made; then it is made again by whoever wants it.
DRAFT_HOURS = server.whole_number("STANDING_DRAFT_HOURS", os.environ.get("STANDING_DRAFT_HOURS", "24"), least=1)
SEAL_DIR = DATA_DIR / "seal"
# With it the seal's key is kept encrypted, and a copy of the folder alone signs nothing.
SEAL_KEY_PASSPHRASE = os.environ.get("STANDING_SEAL_KEY_PASSPHRASE", "")
# With a module the key is in a PKCS#11 token instead (audit/issue/seal/token_key.py), and never in a file.
SEAL_MODULE = os.environ.get("STANDING_SEAL_MODULE", "")
SEAL_TOKEN = os.environ.get("STANDING_SEAL_TOKEN", "")
SEAL_KEY_LABEL = os.environ.get("STANDING_SEAL_KEY", "")
SEAL_PIN = os.environ.get("STANDING_SEAL_PIN", "")
SEAL_PIN_FILE = os.environ.get("STANDING_SEAL_PIN_FILE", "")
# What goes wrong is said on standard error, by pages, commands and workers alike; a traceback follows its line.
LOG_LEVEL = os.environ.get("STANDING_LOG_LEVEL", "WARNING")
if LOG_LEVEL not in ("DEBUG", "INFO", "WARNING", "ERROR", "CRITICAL"):
    raise ImproperlyConfigured(
        f"STANDING_LOG_LEVEL is “{LOG_LEVEL}”. Choose DEBUG, INFO, WARNING, ERROR or CRITICAL."
    )
LOG_FORMAT = os.environ.get("STANDING_LOG_FORMAT", "line")
if LOG_FORMAT not in ("line", "json"):
    raise ImproperlyConfigured(f"STANDING_LOG_FORMAT is “{LOG_FORMAT}”. Choose “line” or “json”.")
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        **{
            name: {"()": "audit.site.logs.WithoutSecrets", "format": line}
            for name, line in (
                ("line", "%(asctime)s %(levelname)s %(name)s: %(message)s"),
                ("asked", "[%(asctime)s] %(message)s"),
            )
        },
        "json": {"()": "audit.site.request_log.JsonLine"},
    },
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT},
        "asked": {"class": "logging.StreamHandler", "formatter": "asked"},
    },
    "loggers": {name: {"handlers": ["console"], "level": LOG_LEVEL} for name in ("audit", "records")},
}
# Who may read /health/ready and /metrics: networks that ask without a proxy between, and whoever brings the token.
METRICS_FROM = [ip_network(n) for n in os.environ.get("STANDING_METRICS_FROM", "127.0.0.1,::1").split(",") if n]
METRICS_TOKEN = os.environ.get("STANDING_METRICS_TOKEN", "")
# 500 typed rows with every field of a spore test; a form with thirty tasks and their notes stays well under it.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 13_000

DJANGO_TABLES2_TEMPLATE = "records/table.html"

if PRODUCTION:
    SECURE_SSL_REDIRECT = OVER_HTTPS
    SECURE_HSTS_SECONDS = int(os.environ.get("STANDING_HSTS_SECONDS", "31536000"))
    # Both bind every other name under the clinic's own, for as long as HSTS says: never without being asked for.
    SECURE_HSTS_INCLUDE_SUBDOMAINS = os.environ.get("STANDING_HSTS_SUBDOMAINS", "0") == "1"
    SECURE_HSTS_PRELOAD = os.environ.get("STANDING_HSTS_PRELOAD", "0") == "1"
    # So `check --deploy` does not ask for what is a choice here (W005 subdomains, W021 preload).
    SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
    if BEHIND_PROXY:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SESSION_COOKIE_SECURE = True
    # Browsers take a cookie of that name over HTTPS only, and from this very host (RFC 6265bis, 4.1.3.2).
    SESSION_COOKIE_NAME = "__Host-sitting" if OVER_HTTPS else "sitting"
    CSRF_COOKIE_SECURE = True
    # Of a server Django's own faults too, which it else tells nobody.
    LOGGING["root"] = {"handlers": ["console"], "level": "WARNING"}
    LOGGING["loggers"] = {name: {"level": LOG_LEVEL} for name in LOGGING["loggers"]}
else:
    LOGGING["loggers"]["django"] = {"handlers": ["console"], "level": "INFO"}
LOGGING["loggers"]["django.server"] = {"handlers": ["asked"], "level": "INFO", "propagate": False}
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
X_FRAME_OPTIONS = "DENY"
