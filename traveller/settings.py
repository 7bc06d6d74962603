"""The one settings file. Everything that differs between machines comes from the environment."""

from __future__ import annotations

import sys
from pathlib import Path
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

from traveller.environment import (
    database,
    env_flag,
    env_text,
    env_whole,
    folder_made,
    public_address,
    secret_key,
    sqlite,
)

ROOT = Path(__file__).resolve().parent.parent
TESTING = "pytest" in sys.modules
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")

# --- Where things are -------------------------------------------------------------------------------------
DEMO = env_flag("TRAVELLER_DEMO")
SERVING = env_flag("TRAVELLER_SERVING") and not TESTING
DATA = folder_made(Path(env_text("TRAVELLER_DATA") or ROOT / ".data").resolve(), "TRAVELLER_DATA")

SECRET_KEY = "only-for-tests-" + "x" * 50 if TESTING else secret_key(DATA)
DEBUG = env_flag("TRAVELLER_DEBUG")
PORT = env_whole("TRAVELLER_PORT", 8000)
if not 1 <= PORT <= 65535:
    raise ImproperlyConfigured(f"The port is {PORT}; it must be a whole number from 1 to 65535, such as 8000.")

# Printed on every traveller and never to change afterwards: paper outlives releases.
PUBLIC_ADDRESS = public_address(
    "https://trace.example"
    if TESTING
    else env_text("TRAVELLER_ADDRESS") or (f"http://127.0.0.1:{PORT}" if DEMO else None),
    plain_allowed=DEMO,
)
# Shown to whoever scans a code without a pass: whom to call.
CALL_WHOM = env_text("TRAVELLER_CALL") or ""
HTTPS = not TESTING and (PUBLIC_ADDRESS or "https:").startswith("https:")

DATABASE_URL = env_text("DATABASE_URL")
if DEMO:
    # The demo starts afresh each time, so it must never be pointed at a real database.
    DATABASES = {"default": sqlite(DATA / "demo.sqlite3", testing=TESTING)}
elif DATABASE_URL:
    DATABASES = {"default": database(DATABASE_URL, testing=TESTING)}
else:
    DATABASES = {"default": sqlite(DATA / "traveller.sqlite3", testing=TESTING)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- Rooms ------------------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_tables2",
    "django_tasks",
    "django_tasks_db",
    "sites",
    "traveller.products",
    "traveller.journal",
    "traveller.ledger",
    "traveller.dispatches",
    "traveller.batches",
    "traveller.orders",
    "traveller.shipping",
    "traveller.web",
    "traveller.exchange",
    "traveller",
]

MIDDLEWARE = [
    # Before all others, so that refusals and static files carry these headers too.
    "traveller.web.headers.HeadersMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # A page is a fifth over the wire; its tokens are masked anew each time, so that their length tells nothing.
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    "traveller.web.readable_cookies.WholeCookiesMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "traveller.web.language.reader.ReaderMiddleware",
    # Before anything reads address or fields, and behind the language in which it refuses.
    "traveller.web.only_utf8.OnlyUtf8Middleware",
    # Before anybody takes a phone for a stranger because of a cookie beside its pass.
    "traveller.web.readable_cookies.ReadableCookiesMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    # Who asks, founder or site pass, once the session and the signed-in user are known.
    "traveller.web.who.WhoMiddleware",
    # The id of a form's news goes along to the page that its answer leads to.
    "traveller.web.answered.AnsweredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    # A form that came back because the database was away, busy or full is a 503.
    "traveller.web.outage.OutageMiddleware",
]

ROOT_URLCONF = "traveller.urls"
WSGI_APPLICATION = "traveller.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["traveller.web.templatetags.tight"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.template.context_processors.i18n",
                "django.contrib.messages.context_processors.messages",
                "traveller.web.answered.confirmed",
            ],
        },
    },
]

# --- People -----------------------------------------------------------------------------------------------
LOGIN_URL = "/sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# --- Words and time ---------------------------------------------------------------------------------------
LANGUAGE_CODE = "en"
LANGUAGES = [
    ("en", "English"),
    ("es", "Español"),
    ("zh-hans", "简体中文"),
    ("vi", "Tiếng Việt"),
    ("ar", "العربية"),
]
LOCALE_PATHS = [ROOT / "traveller" / "web" / "locale"]
FORMAT_MODULE_PATH = ["traveller.web.language.formats"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# --- Files ------------------------------------------------------------------------------------------------
STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
MEDIA_URL = "/media/"
MEDIA_ROOT = DATA / ("test-media" if TESTING else "demo-media" if DEMO else "media")
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        # Names with a digest let a phone keep a file for ever; they exist only once files are collected.
        "BACKEND": "traveller.web.squeezed.SqueezedStaticFilesStorage"
        if SERVING
        else "django.contrib.staticfiles.storage.StaticFilesStorage",
    },
}
WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = not SERVING
# Our files are for our own pages; traveller.web.headers says so with every answer.
WHITENOISE_ALLOW_ALL_ORIGINS = False
# A photo from a phone is 3-12 MB; forms are small.
# For this user alone, whatever the umask: the framework would make collected files readable to everybody.
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
UPLOAD_BYTES_MAX = 25 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
DATA_UPLOAD_MAX_NUMBER_FILES = 50
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
# What is too large for memory waits beside the data, not in a folder that every program of the system reads.
FILE_UPLOAD_TEMP_DIR = DATA / "incoming"
FILE_UPLOAD_TEMP_DIR.mkdir(exist_ok=True)
FILE_UPLOAD_HANDLERS = [
    # Before the others, which would write 200 MB to the disk before anybody could refuse them.
    "traveller.web.bounded_upload.BoundedUpload",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

# --- Work behind the pages --------------------------------------------------------------------------------
# Two lanes, each a process of `manage.py work`: what is read within a breath, and what may take a minute.
LANES = ["quick", "slow"]
TASKS = {
    "default": {
        "BACKEND": "django_tasks_db.DatabaseBackend",
        "QUEUES": LANES,
        "OPTIONS": {"id_function": "traveller.journal.background.task_id"},
    },
    # For the tests and the demo's story: a task is done where it is asked for.
    "at once": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend", "QUEUES": LANES},
}
TASKS_AT_ONCE = TESTING
# Where all processes on these data share the places for decoders.
DECODE_PLACE = DATA / "decode"

# --- Security ---------------------------------------------------------------------------------------------
ALLOWED_HOSTS = [*LOOPBACK, *(env_text("TRAVELLER_HOSTS") or "").replace(",", " ").split()]
if PUBLIC_ADDRESS:
    ALLOWED_HOSTS.append(f"[{host}]" if ":" in (host := urlsplit(PUBLIC_ADDRESS).hostname or "") else host)
    CSRF_TRUSTED_ORIGINS = [PUBLIC_ADDRESS]

# Only a proxy that always sets this header may be trusted with it, so the maker must name it.
PROXY_HEADER = env_text("TRAVELLER_PROXY_HEADER")
if PROXY_HEADER:
    SECURE_PROXY_SSL_HEADER = (f"HTTP_{PROXY_HEADER.upper().replace('-', '_')}", "https")
# How many proxies of ours stand before the server, each adding its caller's address to X-Forwarded-For. With 0
# everybody behind a proxy would share one count of wrong passwords; with too many a stranger could choose his own.
PROXY_COUNT = env_whole("TRAVELLER_PROXIES", 0)
# Redirecting is safe only where we can tell https from http; otherwise it would go round in circles.
SECURE_SSL_REDIRECT = HTTPS and (PROXY_HEADER is not None or env_flag("TRAVELLER_TLS"))
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
SECURE_CONTENT_TYPE_NOSNIFF = True
# Where a pass or a sign-in link stands in the address, traveller.web.headers says no-referrer.
SECURE_REFERRER_POLICY = "same-origin"
CSRF_FAILURE_VIEW = "traveller.web.faults.page_too_old"
X_FRAME_OPTIONS = "DENY"
# W005 and W021 ask us to speak for every sub-domain and for browsers' built-in lists. The host may be the
# maker's main domain, whose other services are not ours to force.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = LANGUAGE_COOKIE_SECURE = HTTPS
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = LANGUAGE_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = LANGUAGE_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 400 * 24 * 3600  # a phone belongs to its site until the pass is revoked

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:"],
        "media-src": ["'self'", "blob:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "worker-src": ["'self'"],
        "manifest-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    },
}

# --- What is told -----------------------------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"tokens_blanked": {"()": "traveller.web.tokens_blanked.TokensBlanked"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["tokens_blanked"]}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # Django's own handlers write, and would mail, whole addresses: everything goes through ours.
    "loggers": {
        "django": {"handlers": [], "level": "WARNING"},
        "django.server": {"handlers": ["console"], "level": "INFO", "propagate": False},
    },
}
