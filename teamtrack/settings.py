"""Settings: an embedded default (SQLite, file queue), and servers (PostgreSQL, Redis) by environment."""

from pathlib import Path

import environ
from csp.constants import NONE, SELF
from django.utils.translation import gettext_lazy as _

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

DEBUG = env.bool("TEAMTRACK_DEBUG", default=False)
DEMO = env.bool("TEAMTRACK_DEMO", default=False)
DATA_DIR = Path(env.str("TEAMTRACK_DATA_DIR", default=str(BASE_DIR / ".data")))
LOG_HEADS_FILE = Path(env.str("LOG_HEADS_FILE", default=str(DATA_DIR / "signed-heads.jsonl")))
HEALTH_KEYS_DIR = Path(env.str("HEALTH_KEYS_DIR", default=str(DATA_DIR / "health-keys")))
SIGN_IN_KEY_FILE = Path(env.str("SIGN_IN_KEY_FILE", default=str(DATA_DIR / "sign-in.key")))
ERASURE_LEDGER_FILE = Path(env.str("ERASURE_LEDGER_FILE", default=str(DATA_DIR / "erasure-ledger.jsonl")))
SECRET_KEY = env.str("SECRET_KEY", default="")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
CLUB_DAY_SHIFT = env.int("TEAMTRACK_DAY_SHIFT", default=0)

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "django_htmx",
    "csp",
    "allauth.account",
    "allauth.mfa",
    "teamtrack.common",
    "athletes",
    "sessions",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "athletes.web.sign_in_life.SignInLife",
    "teamtrack.common.middleware.SignInRequired",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "teamtrack.common.middleware.PrivateAnswers",
]
ROOT_URLCONF = "teamtrack.urls"
WSGI_APPLICATION = "teamtrack.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "athletes.web.context.signed_in",
            ],
            "builtins": ["django.templatetags.i18n", "django.templatetags.static"],
        },
    }
]

# Database: the truth. Servers give the owner's login (DATABASE_URL) and the serving login (DATABASE_APP_URL) apart.
_as_owner = env.bool("TEAMTRACK_AS_OWNER", default=False)
_owner_url = env.str("DATABASE_URL", default="")
_database_url = _owner_url if _as_owner else env.str("DATABASE_APP_URL", default="") or _owner_url
if _database_url:
    DATABASES = {"default": env.db_url_config(_database_url)}
    DATABASES["default"]["CONN_MAX_AGE"] = 0
    DATABASES["default"]["OPTIONS"] = {
        "pool": {"min_size": 1, "max_size": 8, "timeout": 10},
        # A phone gives up after 20 s: before that it is told that the server is busy. A commit is on disk.
        "prepare_threshold": 3,
        "options": "-c lock_timeout=10s -c synchronous_commit=on",
    }
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "teamtrack.sqlite3",
            # Kept open by each thread: the last one to close would move the whole log into the file, in that request.
            "CONN_MAX_AGE": None,
            "OPTIONS": {
                "timeout": 10,
                "transaction_mode": "IMMEDIATE",
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON;",
            },
        }
    }
CHECK_SERVING_LOGIN = not _as_owner  # the owner migrates, backs up and restores, and serves nobody
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Accounts
AUTH_USER_MODEL = "athletes.Account"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "first-screen"
LOGOUT_REDIRECT_URL = "sign-in"
AUTHENTICATION_BACKENDS = ["athletes.sign_in.AccountBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "athletes.password_rules.LongEnough"},
    {"NAME": "athletes.password_rules.NotOfTheClub"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
# Of the kept library only the protocols of second factors are used: its pages have no address here.
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*", "password2*"]
ACCOUNT_USER_MODEL_EMAIL_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "none"
MFA_ADAPTER = "athletes.factor_adapter.FactorAdapter"
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes", "webauthn"]
MFA_TOTP_TOLERANCE = 1
MFA_RECOVERY_CODE_DIGITS = 10
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = DEMO or DEBUG
SESSION_ENGINE = "teamtrack.common.browser_sessions"
SESSION_COOKIE_AGE = 30 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "teamtrack.common.web.errors.csrf_failure"

# Transport: the demo answers on loopback without TLS, everything else is https only.
_https = not (DEMO or DEBUG)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _https
SESSION_COOKIE_NAME = "__Host-sessionid" if _https else "sessionid"
CSRF_COOKIE_NAME = "__Host-csrftoken" if _https else "csrftoken"
SECURE_SSL_REDIRECT = _https
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if _https else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = _https
SECURE_REFERRER_POLICY = "same-origin"
if env.bool("BEHIND_TLS_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}

# Language, time
LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [BASE_DIR / "teamtrack" / "common" / "locale"]
USE_I18N = USE_TZ = True
TIME_ZONE = "UTC"

# Static files
STATIC_URL = "/static/"
STATIC_ROOT = Path(env.str("TEAMTRACK_STATIC_ROOT", default=str(DATA_DIR / "static")))
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "teamtrack.common.static_files.HashedFiles"},
}

# API
REST_FRAMEWORK = {
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_AUTHENTICATION_CLASSES": ["teamtrack.common.api.authentication.BrowserSession"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_THROTTLE_CLASSES": ["athletes.api.throttled.PerPerson"],
    "DEFAULT_SCHEMA_CLASS": "teamtrack.common.api.document.Described",
    "EXCEPTION_HANDLER": "teamtrack.common.api.errors.answer_for",
    "URL_FORMAT_OVERRIDE": None,
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Team server",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": True,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_AUTHENTICATION": [],
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "teamtrack.common.api.document.close_shapes",
        "sessions.api.links.add_links",
    ],
    "ENUM_NAME_OVERRIDES": {
        "KindEnum": "sessions.models.season.Kind.choices",
        "SessionStateEnum": "sessions.models.calendar.SessionState.choices",
    },
}

# Mail: without a server's address it is written to standard output in the demo, and none is sent elsewhere.
EMAIL_URL = env.str("EMAIL_URL", default="")
SENDS_MAIL = bool(EMAIL_URL) or DEMO
vars().update(env.email_url_config(EMAIL_URL or "consolemail://"))
DEFAULT_FROM_EMAIL = env.str("MAIL_FROM", default="") or "training@localhost"

# Queue: it only wakes the worker; what is due lies in rows.
REDIS_URL = env.str("REDIS_URL", default="")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "teamtrack.common.logs.JsonLine"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": env.str("LOG_LEVEL", default="WARNING")},
}
