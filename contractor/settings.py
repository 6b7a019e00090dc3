"""Settings from the environment; ``.env.example`` lists every key with its default."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import environ
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
DEMO_SECRET_KEY = "demo-only-secret-key-never-use-in-production"  # noqa: S105

env = environ.Env()
environ.Env.read_env(BASE_DIR / ".env")

DEBUG: bool = env.bool("DEBUG", default=False)
SECRET_KEY: str = env.str("SECRET_KEY", default=DEMO_SECRET_KEY)
SECRET_KEY_FALLBACKS: list[str] = env.list("SECRET_KEY_FALLBACKS", default=[])
ALLOWED_HOSTS: list[str] = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS: list[str] = env.list("CSRF_TRUSTED_ORIGINS", default=[])
SITE_URL: str = env.str("SITE_URL", default="http://127.0.0.1:8000")
STATE_DIR = Path(env.str("STATE_DIR", default=str(BASE_DIR / "var")))
HTTPS_ONLY: bool = env.bool("HTTPS_ONLY", default=not DEBUG)

if not DEBUG and SECRET_KEY == DEMO_SECRET_KEY:
    raise ImproperlyConfigured(
        "SECRET_KEY is the demo key and DEBUG is off. Anyone could forge sessions and links. "
        "Set SECRET_KEY to 50 random characters (or DEBUG=true on a developer's machine)."
    )
if not DEBUG and "*" in ALLOWED_HOSTS:
    raise ImproperlyConfigured(
        "ALLOWED_HOSTS contains '*' and DEBUG is off. Name the hosts that serve this site."
    )

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.admin",
    "axes",
    "django_filters",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "contractor",
    "contractor.api",
    "inventory",
    "jobs",
    "contractor.crews",
]

MIDDLEWARE = [
    "contractor.api.middleware.SecurityHeadersMiddleware",
    "contractor.api.middleware.ProblemDetailsMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "contractor.api.middleware.ActorMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
]

APPEND_SLASH = False
ROOT_URLCONF = "contractor.urls"
WSGI_APPLICATION = "contractor.wsgi.application"
AUTH_USER_MODEL = "api.User"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "contractor/screens/templates", BASE_DIR / "contractor/documents"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

DATABASES: dict[str, Any] = {
    "default": env.db("DATABASE_URL", default=f"sqlite:///{STATE_DIR / 'tautline.sqlite3'}"),
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    STATE_DIR.mkdir(parents=True, exist_ok=True)
    # WAL without IMMEDIATE loses most concurrent writers: they fail to upgrade their lock.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
    }
else:
    DATABASES["default"].setdefault("OPTIONS", {})["options"] = (
        f"-c statement_timeout={env.int('STATEMENT_TIMEOUT_MS', default=5000)}"
    )
    DATABASES["default"]["CONN_MAX_AGE"] = env.int("CONN_MAX_AGE", default=60)
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_ENABLE_ADMIN = False

LANGUAGE_CODE = "en-us"
LANGUAGES = [("en", "English"), ("es", "Español")]
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
STATIC_ROOT = STATE_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "contractor/screens/static"]
MEDIA_ROOT = STATE_DIR / "media"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG

EMAIL_BACKEND: str = env.str("EMAIL_BACKEND", default="jobs.messages.files.EmailBackend")
EMAIL_FILE_PATH = STATE_DIR / "mail"
EMAIL_HOST: str = env.str("EMAIL_HOST", default="localhost")
EMAIL_PORT: int = env.int("EMAIL_PORT", default=25)
EMAIL_HOST_USER: str = env.str("EMAIL_HOST_USER", default="")
EMAIL_HOST_PASSWORD: str = env.str("EMAIL_HOST_PASSWORD", default="")
EMAIL_USE_TLS: bool = env.bool("EMAIL_USE_TLS", default=False)
EMAIL_TIMEOUT = 15
DEFAULT_FROM_EMAIL: str = env.str("DEFAULT_FROM_EMAIL", default="office@example.org")
TEXT_GATEWAY: str = env.str("TEXT_GATEWAY", default="file")
TEXT_GATEWAY_URL: str = env.str("TEXT_GATEWAY_URL", default="")
TEXT_GATEWAY_SECRET: str = env.str("TEXT_GATEWAY_SECRET", default="")
TRAVEL_MATRIX_URL: str = env.str("TRAVEL_MATRIX_URL", default="")
WEBHOOK_ALLOWED_HOSTS: list[str] = env.list("WEBHOOK_ALLOWED_HOSTS", default=[])

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS_ONLY
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS_ONLY else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS_ONLY
if env.bool("BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

CELERY_BROKER_URL: str = env.str("CELERY_BROKER_URL", default="")
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_PUBLISH_RETRY = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "socket_timeout": 3,
    "socket_connect_timeout": 1,
    "visibility_timeout": 600,
}
# "celery": a broker carries nudges. "ticker": a thread of this process does the due work.
# "manual": tests call queue.drain() themselves.
QUEUE_MODE: str = env.str("QUEUE_MODE", default="celery" if CELERY_BROKER_URL else "ticker")

# One counter for all processes needs Redis; without it each process counts for itself.
CACHES: dict[str, Any] = {
    "default": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "OPTIONS": {"MAX_ENTRIES": 10_000},
    }
}
if CELERY_BROKER_URL.startswith(("redis://", "rediss://")):
    CACHES["default"] = {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": CELERY_BROKER_URL,
        "KEY_PREFIX": "tautline",
        "OPTIONS": {"socket_timeout": 0.5, "socket_connect_timeout": 0.5},
    }
# Requests per seconds, for each person or token and for each address without one.
RATE_LIMIT: str = env.str("RATE_LIMIT", default="600/60")
RATE_LIMIT_ANONYMOUS: str = env.str("RATE_LIMIT_ANONYMOUS", default="120/60")
# How many proxies in front add to X-Forwarded-For; 0: the header is not believed.
TRUSTED_PROXIES: int = env.int("TRUSTED_PROXIES", default=0)

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "contractor.api.authentication.TokenAuthentication",
        "contractor.api.authentication.ScreenSessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["contractor.api.permissions.DeclaredAccess"],
    "DEFAULT_THROTTLE_CLASSES": ["contractor.api.quota.Quota"],
    "NUM_PROXIES": TRUSTED_PROXIES,
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["contractor.api.parsers.StrictJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "contractor.api.paging.CreatedCursorPagination",
    "DEFAULT_FILTER_BACKENDS": ["contractor.api.filters.StrictFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "contractor.api.schema.TautlineSchema",
    "EXCEPTION_HANDLER": "contractor.api.problems.exception_handler",
    "DEFAULT_VERSIONING_CLASS": None,
    "UNAUTHENTICATED_USER": None,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
    "COERCE_DECIMAL_TO_STRING": False,
}

SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Tautline",
    "DESCRIPTION": "From basement wall survey to re-tightening years later. "
    "Screening, not engineering design: local code and a licensed engineer decide. "
    "Start with the guide at /api/v1/guide: tokens, paging, once-only POSTs, ETags, refusals, "
    "events, webhooks, versions and the changelog. Lists and details also read `fields` "
    "(members to answer with) and, where a resource offers it, `expand`.",
    "VERSION": "1.2.0",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    # Choices stay where they are used: many fields are called "status".
    "POSTPROCESSING_HOOKS": [],
    "GET_LIB_DOC_EXCLUDES": "contractor.api.schema.bases_without_words",
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_AUTHENTICATION": [],
}

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"private": {"()": "contractor.api.privacy.PrivateDataFilter"}},
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "line",
            "filters": ["private"],
        }
    },
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", default="WARNING")},
}
