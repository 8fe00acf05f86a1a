"""The catalogue of a place: the shipped tables with the place's own folder laid over them."""

from __future__ import annotations

import functools
from pathlib import Path

from django.conf import settings

from cubital.catalogue import Catalogue, check_catalogue, load_catalogue, shipped
from cubital.errors import CatalogueError, InputError

Fingerprint = tuple[tuple[str, int, int], ...]


def catalogue_at(folder: str) -> Catalogue:
    """
    Load the tables with a folder laid over them; read again only when a file has changed.

    Args:
        folder: full path, or "" for the folder that the whole desk is set to, if any.

    Raises:
        CatalogueError: the folder is gone, or holds a row that cannot be used.
    """
    folder = folder or settings.CATALOGUE_FOLDER
    if not folder:
        return shipped()
    return _loaded(folder, _fingerprint(Path(folder)))


def _fingerprint(folder: Path) -> Fingerprint:
    """Tell a folder from itself after a change: names, times and sizes of its files."""
    try:
        files = sorted(path for path in folder.iterdir() if path.is_file())
        return tuple((p.name, p.stat().st_mtime_ns, p.stat().st_size) for p in files)
    except OSError as bad:
        raise CatalogueError(
            f"The folder cannot be read ({bad.strerror})",
            str(folder),
            "A manager sets the catalogue folder on the page of the place.",
        ) from bad


@functools.lru_cache(maxsize=8)
def _loaded(folder: str, fingerprint: Fingerprint) -> Catalogue:
    return load_catalogue(Path(folder))


def catalogue_checked(folder: str) -> Catalogue:
    """
    Load a folder that somebody wants to set.

    Raises:
        InputError: no such folder, or the first bad row and how many more there are.
    """
    if not folder:
        return catalogue_at("")
    path = Path(folder)
    if not path.is_absolute() or not path.is_dir():
        raise InputError(
            f"There is no folder {folder!r} on the desk's machine",
            "catalogue folder",
            "Write its full path, or leave it empty for the shipped tables.",
        )
    problems = check_catalogue(path)
    if problems:
        more = f" There are {len(problems) - 1} more." if problems[1:] else ""
        first = problems[0]
        raise InputError(first.what, f"catalogue folder: {first.where}", f"{first.mend}{more}")
    return catalogue_at(folder)
