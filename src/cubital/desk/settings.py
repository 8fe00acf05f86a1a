"""
The desk's Django settings; everything a laboratory sets comes from ``CUBITAL_…`` variables.

Start is refused without a secret key and hosts, unless ``CUBITAL_DEMO=1``.
"""

from __future__ import annotations

import os
from pathlib import Path

from cubital.desk.database import database_from, database_url, use_bundled_sqlite

use_bundled_sqlite()

from django.core.exceptions import ImproperlyConfigured  # noqa: E402

DEMO = os.environ.get("CUBITAL_DEMO") == "1"
DEBUG = False
SECRET_KEY = os.environ.get("CUBITAL_SECRET_KEY", "")
ALLOWED_HOSTS = [h for h in os.environ.get("CUBITAL_HOSTS", "").split(",") if h]
if DEMO:
    ALLOWED_HOSTS = ALLOWED_HOSTS or ["127.0.0.1", "localhost"]
if not SECRET_KEY or not ALLOWED_HOSTS:
    raise ImproperlyConfigured(
        "Set CUBITAL_SECRET_KEY (a long random text) and CUBITAL_HOSTS (names, comma-separated)"
        " before the desk is opened; 'cubital demo' does it for the demo."
    )

HTTPS = os.environ.get("CUBITAL_HTTPS") == "1"
BASE = Path(__file__).resolve().parent

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "cubital.desk.record",
    "cubital.desk.people",
    "cubital.desk.chair",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "cubital.desk.people.shift.ShiftMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "cubital.desk.catalogue.middleware.BrokenTablesMiddleware",
]
ROOT_URLCONF = "cubital.desk.urls"
WSGI_APPLICATION = "cubital.desk.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "cubital.desk.people.here.context",
            ]
        },
    }
]

DATABASES = {"default": database_from(database_url())}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "record.Person"
AUTHENTICATION_BACKENDS = ["cubital.desk.people.sessions.SignIn"]
SESSION_ENGINE = "cubital.desk.people.sessions"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
CSRF_FAILURE_VIEW = "cubital.desk.people.views.csrf_failed"
SESSION_COOKIE_AGE = 12 * 60 * 60
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = os.environ.get("CUBITAL_TIME_ZONE", "UTC")
USE_TZ = True

STATIC_URL = "/static/"
STATIC_ROOT = os.environ.get("CUBITAL_STATIC", str(Path("var/static").resolve()))
STATICFILES_DIRS = [BASE / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "frame-ancestors": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        "object-src": ["'none'"],
    }
}
# What fails is said on standard error; a line names a route, never a patient or what was typed.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"nameless": {"()": "cubital.desk.log_lines.NamelessFormatter"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "nameless"}},
    "loggers": {
        "cubital": {"handlers": ["stderr"], "level": "WARNING"},
        "django.request": {"handlers": ["stderr"], "level": "ERROR", "propagate": False},
        "django.security": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
    },
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

CATALOGUE_FOLDER = os.environ.get("CUBITAL_CATALOGUE", "")
SITE_ALTITUDE_M = int(os.environ.get("CUBITAL_ALTITUDE_M", "0"))
LAKE = os.environ.get("CUBITAL_LAKE", str(Path("var/lake").resolve()))
"""Folder of the figures that the indicators count, made from the record."""
LAKE_IN_BACKGROUND = True
