"""Every setting, read from the environment with a typed default. With none set the site runs embedded.

DATABASE_URL, BROKER_URL, CACHE_URL, EMAIL_URL, SITE_URL, SECRET_KEY and DATA_DIR are what an operator
usually sets; README.md shows them for one machine and for servers.
"""

import secrets
import sqlite3
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.FileAwareEnv()


def _embedded_secret(folder: Path) -> str:
    """The secret of a site that was given none: made once, kept beside its data, readable by its user alone."""
    file = folder / "secret_key"
    if not file.exists():
        folder.mkdir(parents=True, exist_ok=True)
        file.touch(mode=0o600)
        file.write_text(secrets.token_urlsafe(64))
    return file.read_text()


def _sqlite_pragmas() -> str:
    """Write-ahead log only on a SQLite that does not corrupt it; a rollback journal otherwise."""
    version = sqlite3.sqlite_version_info
    mended = version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51, 0) or (3, 44, 6) <= version < (3, 45, 0)
    journal = (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL"
        if mended
        else "PRAGMA journal_mode=TRUNCATE;PRAGMA synchronous=EXTRA"
    )
    return f"{journal};PRAGMA foreign_keys=ON"


# --- the site -------------------------------------------------------------------------------------
DATA_DIR = Path(env.str("DATA_DIR", default=str(BASE_DIR / "var")))
SITE_URL: str = env.str("SITE_URL", default="http://127.0.0.1:8000").rstrip("/")
SECRET_KEY: str = env.str("SECRET_KEY", default="") or _embedded_secret(DATA_DIR)
SECRET_KEY_FALLBACKS: list[str] = env.list("SECRET_KEY_FALLBACKS", default=[])
DEBUG: bool = env.bool("DEBUG", default=False)
ALLOWED_HOSTS: list[str] = env.list("ALLOWED_HOSTS", default=[urlsplit(SITE_URL).hostname, "localhost", "127.0.0.1"])
TRUSTED_PROXIES: int = env.int("TRUSTED_PROXIES", default=0)
DEMO: bool = env.bool("DEMO", default=False)

# --- the house: what its letters, papers and rules say about itself --------------------------------
HOUSE_NAME: str = env.str("HOUSE_NAME", default="Fernhollow")
MAIL_FROM: str = env.str("MAIL_FROM", default="service@fernhollow.example")
SHELF_MONTHS: int = env.int("SHELF_MONTHS", default=36)
# So many letters of one round are never unusual; more are held for the desk where they are three times the usual.
ROUND_LETTERS_USUAL: int = env.int("ROUND_LETTERS_USUAL", default=200)
# How long a boutique keeps for one visit that an owner books.
VISIT_MINUTES: int = env.int("VISIT_MINUTES", default=30)
# How many days returned mail and the mail provider's calls are kept word for word; what they said of letters stays.
RETURNED_MAIL_DAYS: int = env.int("RETURNED_MAIL_DAYS", default=90)
# How many years the law asks the house to keep signed receipts and photographs of what was taken in.
RECEIPT_YEARS: int = env.int("RECEIPT_YEARS", default=10)
# A manager is warned when the last backup that was verified is older than so many days.
BACKUP_VERIFIED_DAYS: int = env.int("BACKUP_VERIFIED_DAYS", default=7)
# The currency of the house's own prices (ISO 4217).
HOUSE_CURRENCY: str = env.str("HOUSE_CURRENCY", default="EUR")
TIME_ZONE: str = env.str("HOUSE_TIME_ZONE", default="UTC")
USE_TZ = True
LANGUAGE_CODE = "en"
LANGUAGES = [
    ("en", "English"),
    ("fr", "Français"),
    ("de", "Deutsch"),
    ("it", "Italiano"),
    ("es", "Español"),
    ("ja", "日本語"),
]
LOCALE_PATHS = [BASE_DIR / "service_center" / "locale"]
FORMAT_MODULE_PATH = ["service_center.locale"]

# --- apps, from the lowest layer to the highest (pyproject.toml holds the contract) ---------------
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "csp",
    "django_htmx",
    "service_center.access",
    "service_center.papers",
    "service_center.book",
    "service_center.measurements",
    "service_center.intervals",
    "service_center.guarantee",
    "service_center.workshop",
    "service_center.letters",
    "service_center.planning",
    "service_center.rulebook",
    "service_center.pieces",
    "service_center.intake",
    "service_center.bench",
    "service_center.owner_pages",
    "service_center.exchange",
    "service_center.keeping",
    "service_center.today",
    "service_center.serving",
    "service_center.demo",
]
MIDDLEWARE = [
    "service_center.owner_pages.middleware.OwnersSideMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "service_center.access.middleware.PatientSessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "service_center.access.middleware.SessionLifeMiddleware",
    "service_center.access.middleware.DoorMiddleware",
]
ROOT_URLCONF = "service_center.urls"
WSGI_APPLICATION = "service_center.wsgi.application"
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
                "service_center.access.context.house",
                "service_center.book.context.boutique",
            ],
        },
    }
]

# --- database, cache, broker ------------------------------------------------------------------------
_database: dict[str, Any] = env.db_url("DATABASE_URL", default=f"sqlite:///{DATA_DIR / 'book.sqlite3'}")
if _database["ENGINE"].endswith("sqlite3"):
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    _database["OPTIONS"] = {"transaction_mode": "IMMEDIATE", "timeout": 30, "init_command": _sqlite_pragmas()}
    _database["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
else:
    _database["CONN_MAX_AGE"] = 60
    _database["CONN_HEALTH_CHECKS"] = True
    _database["OPTIONS"] = {"options": "-c lock_timeout=5s -c idle_in_transaction_session_timeout=60s"}
DATABASES = {"default": _database}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {"default": env.cache_url("CACHE_URL", default="locmemcache://")}
BROKER_URL: str = env.str("BROKER_URL", default="memory://localhost")

# --- mail: EMAIL_URL unset means that letters wait -----------------------------------------------
_mail_server: str = env.str("EMAIL_URL", default="")
MAIL_CONFIGURED: bool = bool(_mail_server)
vars().update(env.email_url_config(_mail_server or "smtp://127.0.0.1:1025"))
# How long a mail server may take to answer a command, and the end of a message (RFC 5321, 4.5.3.2.6: ten minutes).
EMAIL_TIMEOUT: int = env.int("MAIL_COMMAND_SECONDS", default=60)
MAIL_DOT_SECONDS: int = env.int("MAIL_DOT_SECONDS", default=600)
# How long a sender may keep a letter before others take it to be dead; longer than the commands together may take.
LETTER_LEASE_SECONDS: int = env.int("LETTER_LEASE_SECONDS", default=300)
DEFAULT_FROM_EMAIL = MAIL_FROM
# Where letters that cannot be delivered come back to: bounce+...@BOUNCE_DOMAIN is read from a mailbox or a folder.
BOUNCE_DOMAIN: str = env.str("BOUNCE_DOMAIN", default=MAIL_FROM.rpartition("@")[2])
BOUNCE_MAILBOX_URL: str = env.str("BOUNCE_MAILBOX_URL", default="")
BOUNCE_FOLDER: str = env.str("BOUNCE_FOLDER", default="")
# A mail provider whose server EMAIL_URL names, and the key with which it signs what it tells /letters/events/.
MAIL_PROVIDER: str = env.str("MAIL_PROVIDER", default="")
MAIL_PROVIDER_KEY: str = env.str("MAIL_PROVIDER_KEY", default="")
if MAIL_PROVIDER not in {"", "mailgun", "mandrill"}:
    raise ImproperlyConfigured(f"MAIL_PROVIDER: {MAIL_PROVIDER} is none of mailgun, mandrill")
if MAIL_PROVIDER and not MAIL_PROVIDER_KEY:
    raise ImproperlyConfigured("MAIL_PROVIDER_KEY: missing, beside MAIL_PROVIDER")

# --- people ---------------------------------------------------------------------------------------
AUTH_USER_MODEL = "access.Staff"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
ACCOUNT_ADAPTER = "service_center.access.adapter.ClosedDoorAdapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = False
ALLAUTH_TRUSTED_PROXY_COUNT = TRUSTED_PROXIES
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "today:home"
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"

# --- browsers ---------------------------------------------------------------------------------------
_https = SITE_URL.startswith("https://")
SESSION_COOKIE_NAME = "__Host-sessionid" if _https else "sessionid"
CSRF_COOKIE_NAME = "__Host-csrftoken" if _https else "csrftoken"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = _https
SECURE_HSTS_SECONDS = 31_536_000 if _https else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = _https
# The machine that watches the site asks on loopback, without the proxy that speaks https.
SECURE_REDIRECT_EXEMPT = [r"^health/"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TRUSTED_PROXIES else None
CSRF_TRUSTED_ORIGINS = [SITE_URL] if _https else []
SESSION_COOKIE_AGE = 12 * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
SECURE_REFERRER_POLICY = "same-origin"
# No page stands in a frame, but those that say so: a letter as its owner sees it.
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "frame-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 15 * 1024 * 1024

# --- files ------------------------------------------------------------------------------------------
STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": str(DATA_DIR / "files")},
    },
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

# --- what goes wrong is written to stderr -----------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"no_secrets": {"()": "service_center.serving.logs.NoSecrets"}},
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["no_secrets"]}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        # Which pieces of other boutiques a counter found by their whole serial.
        "service_center.intake.searches": {"level": "INFO"},
    },
}
