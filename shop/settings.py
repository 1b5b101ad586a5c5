"""Settings. Everything a shop keeps lies in one data folder; the environment can override the rest."""

import os
import tempfile
from pathlib import Path

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

env = environ.Env()

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("EVENING_POUR_DATA") or BASE_DIR / "data").resolve()
DEBUG = env.bool("EVENING_POUR_DEBUG", default=False)


def _secret_key() -> str:
    """The key kept in the data folder; `python3 -m shop serve` makes it."""
    if key := os.environ.get("SECRET_KEY"):
        return key
    path = DATA_DIR / "secret_key"
    if path.exists():
        return path.read_text().strip()
    # Without a data folder (tests, makemigrations) a key for this process only will do.
    return "for-this-process-only-" + os.urandom(32).hex()


SECRET_KEY = _secret_key()
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.forms",
    "django_htmx",
    "csp",
    "axes",
    "inventory",
    "production",
    "shop",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "shop.middleware.AccessMiddleware",
    "shop.middleware.StaySignedInMiddleware",
    "shop.middleware.ShopTimeZoneMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"

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
                "shop.context.house",
            ],
        },
    },
]
FORM_RENDERER = "shop.rendering.FormRenderer"

# An embedded database by default; DATABASE_URL moves the shop to PostgreSQL.
if url := os.environ.get("DATABASE_URL"):
    if not url.startswith(("postgres://", "postgresql://")):
        raise ImproperlyConfigured("DATABASE_URL must begin with postgres://")
    try:
        DATABASES = {"default": env.db("DATABASE_URL")}
    except ValueError as error:
        raise ImproperlyConfigured(f"DATABASE_URL cannot be read: {error}") from error
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "db.sqlite3",
            "OPTIONS": {
                "timeout": 20,
                # Writers queue at BEGIN instead of failing half-way.
                "transaction_mode": "IMMEDIATE",
                # FULL: what was answered survives a power cut.
                "init_command": (
                    "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
                ),
            },
            # A file, since threads of one test can't share a database in memory; one for each run.
            "TEST": {"NAME": Path(tempfile.gettempdir()) / f"evening-pour-{os.getpid()}.sqlite3"},
        }
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "shop.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.ScryptPasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "tonight"
LOGOUT_REDIRECT_URL = "sign_in"
# Wrong passwords for one name from one address; shop/throttle.py says what else is counted.
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_HANDLER = "shop.throttle.Throttle"
# Else whoever goes on guessing would lock the name's owner out for ever.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"], "username", "ip_address"]
AXES_LOCKOUT_CALLABLE = "shop.views.door.locked_out"
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False

LANGUAGE_CODE = "en-us"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
#: What is printed is previewed with the fonts that print.
STATICFILES_DIRS = [BASE_DIR / "static", ("fonts", BASE_DIR / "inventory" / "fonts")]
MEDIA_ROOT = DATA_DIR / "media"
#: Data sheets and pictures, under names of our own; only inventory/services/files.py writes here.
FILES_DIR = DATA_DIR / "files"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
DATA_UPLOAD_MAX_MEMORY_SIZE = 3 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
FILE_UPLOAD_HANDLERS = [
    "inventory.upload_handlers.WholeRequestLimit",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

# Over TLS everything is locked to it; on plain loopback HTTP cookies must still travel.
# EVENING_POUR_TLS: a proxy in front ends TLS. EVENING_POUR_OWN_TLS: `serve --tls-cert` does so itself.
BEHIND_TLS_PROXY = env.bool("EVENING_POUR_TLS", default=False)
OVER_TLS = BEHIND_TLS_PROXY or env.bool("EVENING_POUR_OWN_TLS", default=False)
SECURE_SSL_REDIRECT = OVER_TLS
SESSION_COOKIE_SECURE = OVER_TLS
CSRF_COOKIE_SECURE = OVER_TLS
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if OVER_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = OVER_TLS
SECURE_HSTS_PRELOAD = OVER_TLS
if BEHIND_TLS_PROXY:
    # Only a proxy's word is taken: without one, any visitor could send this header.
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
