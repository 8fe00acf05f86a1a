"""The files that a device keeps for the chair: which they are, and when they have changed."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.urls import reverse

HERE = Path(__file__).resolve().parent
FOLDER = HERE / "static" / "chair"
WORKER = HERE / "templates" / "chair"


def assets() -> list[str]:
    """
    Addresses of everything the page needs, without hashes in their names.

    The page's modules name each other plainly; a changed file makes another version of the worker,
    which fetches them all again.
    """
    names = sorted(path.name for path in FOLDER.iterdir() if path.is_file())
    return [reverse("chair"), *(f"{settings.STATIC_URL}chair/{name}" for name in names)]


@cache
def worker_version() -> str:
    """A name for these very files."""
    digest = sha256()
    for path in sorted([*FOLDER.iterdir(), *WORKER.iterdir()]):
        if path.is_file():
            digest.update(path.name.encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
