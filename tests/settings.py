"""Settings of the tests: the desk's own, a cheap password hasher, a throw-away database."""

import os

os.environ.setdefault("CUBITAL_SECRET_KEY", "only-for-the-tests-0123456789-abcdefghij-klmnop")
os.environ.setdefault("CUBITAL_HOSTS", "127.0.0.1,localhost,testserver")

from cubital.desk.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True  # files from where they lie; no folder of collected ones is wanted
LAKE_IN_BACKGROUND = False
