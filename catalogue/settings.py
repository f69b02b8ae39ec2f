"""Django settings: composes both apps. Values come from the environment (see environment.py)."""

from pathlib import Path
from typing import Any

import django_stubs_ext
import font_source_sans_pro
from csp.constants import NONE, SELF

from catalogue.environment import (
    BASE_DIR,
    Environment,
    kept_secret_key,
    parse_count,
    parse_currency,
    parse_locale,
    parse_time_zone,
    parse_units,
)

django_stubs_ext.monkeypatch()

_environment = Environment()
SETTING_PROBLEMS = _environment.problems

VAR_DIR = Path(_environment.read("WANEYARD_VAR", BASE_DIR / "var", Path)).resolve()
SECRET_KEY = _environment.read("WANEYARD_SECRET_KEY", "", str) or kept_secret_key(VAR_DIR)
DEBUG = _environment.switch("WANEYARD_DEBUG")
HTTPS = _environment.switch("WANEYARD_HTTPS")
ALLOWED_HOSTS = _environment.names("WANEYARD_ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = _environment.names("WANEYARD_TRUSTED_ORIGINS", [])

INSTALLED_APPS = [
    "catalogue",
    "inventory",
    "inventory.admin_config.YardAdminConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_filters",
    "django_htmx",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "inventory.viewer.ViewerMiddleware",
    "inventory.daily.DailyMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "catalogue.urls"
WSGI_APPLICATION = "catalogue.wsgi.application"
AUTH_USER_MODEL = "inventory.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "catalogue:today"
LOGOUT_REDIRECT_URL = "sign_in"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "inventory.viewer.viewer_in_templates",
                "catalogue.navigation.navigation",
            ],
            "builtins": ["inventory.templatetags.wood", "django.templatetags.static"],
        },
    }
]
FORM_RENDERER = "inventory.forms.renderer.Renderer"

DATABASES: dict[str, dict[str, Any]] = {
    "default": _environment.database(
        {"ENGINE": "django.db.backends.sqlite3", "NAME": VAR_DIR / "waneyard.sqlite3"}
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        # Writers queue instead of failing half-way: the lock is taken when the transaction begins.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA cache_size=-20000;"
            "PRAGMA mmap_size=134217728;"
        ),
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LANGUAGE_CODE = "en-us"
TIME_ZONE = _environment.read("WANEYARD_TIME_ZONE", "UTC", parse_time_zone)
USE_I18N = False
USE_TZ = True
UNITS = _environment.read("WANEYARD_UNITS", "imperial", parse_units)
CURRENCY = _environment.read("WANEYARD_CURRENCY", "USD", parse_currency)
MONEY_LOCALE = _environment.read("WANEYARD_LOCALE", "en_US", parse_locale)

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [
    BASE_DIR / "static",
    ("fonts", str(Path(font_source_sans_pro.__file__).parent / "files")),
]
MEDIA_ROOT = Path(_environment.read("WANEYARD_MEDIA", VAR_DIR / "media", Path)).resolve()
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = DEBUG
WHITENOISE_KEEP_ONLY_HASHED_FILES = False
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 8 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FILES = 60
# A logger's file is read in by a thread of its own; tests read it at once.
AIR_IMPORTS_INLINE = False

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
PROXIES = _environment.read("WANEYARD_PROXIES", 0, parse_count)
if PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}

AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "catalogue/locked_out.html"
AXES_RESET_ON_SUCCESS = True
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False
AXES_IPWARE_PROXY_COUNT = PROXIES or None

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
