"""
From folders to a catalogue: read every table, lay the layers over each other, check, index.

The shipped folder comes first; each laboratory folder after it replaces rows of the same key, adds
rows of a new key, and takes out rows whose ``source`` it gives as ``withdrawn`` (of such a row only
the key is read).  A layer is called by its folder's name.
"""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from cubital.catalogue import model
from cubital.catalogue.catalogue import Catalogue
from cubital.catalogue.check import check_rows
from cubital.catalogue.model import Row, Source
from cubital.catalogue.settings import check_settings
from cubital.catalogue.sources import read_sources
from cubital.catalogue.table import LARGEST_BYTES, Cell, key_of, nearest, place, read_table
from cubital.errors import CatalogueError

TABLES = Path(__file__).parent / "tables"
EDITION = "edition.txt"


@dataclass(slots=True)
class _Reading:
    """What has been read so far."""

    sources: dict[str, Source] = field(default_factory=dict)
    tables: dict[type[Row], dict[tuple[Cell, ...], Row]] = field(default_factory=dict)
    problems: list[CatalogueError] = field(default_factory=list)
    layers: list[str] = field(default_factory=list)
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def read_folder(self, folder: Path, layer: str) -> None:
        """Lay one folder over what has been read."""
        if layer in self.layers:
            self.problems.append(
                CatalogueError("two folders have this name", layer, "Rename one of them.")
            )
            return
        self.layers.append(layer)
        try:
            files = {path.name: path for path in sorted(folder.iterdir()) if path.is_file()}
        except OSError as bad:
            self.problems.append(
                CatalogueError(
                    f"the folder cannot be read ({bad.strerror})",
                    str(folder),
                    "Give the folder that holds the laboratory's tables.",
                )
            )
            return
        self._refuse_strangers(folder, files, layer)
        self._read_sources(files, layer)
        for cls in model.ROWS:
            self._read_table(cls, files.get(cls.FILE), layer)

    def _refuse_strangers(self, folder: Path, files: Mapping[str, Path], layer: str) -> None:
        known = [cls.FILE for cls in model.ROWS]
        tables = [name for name in files if name.endswith((".csv", ".toml"))]
        for name in tables:
            if name not in known and not _is_sources(name):
                close = nearest(name, known) or "one of " + ", ".join(known)
                self.problems.append(
                    CatalogueError(
                        "no table has this name", f"{layer}/{name}", f"Rename it to {close}."
                    )
                )
        if not tables:
            self.problems.append(
                CatalogueError(
                    "the folder holds no table", str(folder), "Put tables such as tests.csv there."
                )
            )

    def _bytes(self, path: Path) -> bytes | None:
        try:
            with path.open("rb") as file:
                data = file.read(LARGEST_BYTES + 1)  # one more, so that a larger file is noticed
        except OSError as bad:
            self.problems.append(
                CatalogueError(
                    f"the file cannot be read ({bad.strerror})", str(path), "Let it be read."
                )
            )
            return None
        self.digest.update(f"{path.name}\n{len(data)}\n".encode())
        self.digest.update(data)
        return data

    def _read_sources(self, files: Mapping[str, Path], layer: str) -> None:
        here: dict[str, str] = {}
        for name, path in files.items():
            if not _is_sources(name):
                continue
            data = self._bytes(path)
            if data is None:
                continue
            sources, problems = read_sources(data, name, layer)
            self.problems += problems
            for source in sources:
                if source.key in here:
                    self.problems.append(
                        CatalogueError(
                            f"{here[source.key]} already holds this key",
                            f"{name}, [{source.key}]",
                            "Keep one of them.",
                        )
                    )
                here[source.key] = name
                self.sources[source.key] = source

    def _read_table(self, cls: type[Row], path: Path | None, layer: str) -> None:
        rows = self.tables.setdefault(cls, {})
        if path is None:
            if layer == "shipped":
                self.problems.append(
                    CatalogueError("the table is missing", cls.FILE, "Install cubital again.")
                )
            return
        data = self._bytes(path)
        if data is None:
            return
        table = read_table(cls, data, layer)
        self.problems += table.problems
        if layer != "shipped" and cls is model.Setting:
            self.problems += check_settings(rows, table, layer)
        for key, line in table.withdrawn.items():
            if rows.pop(key, None) is None:
                self.problems.append(
                    CatalogueError(
                        "the row withdraws one that does not stand in a lower layer",
                        place(cls, layer, line),
                        f"Write its {', '.join(cls.KEY)} as there, or delete the row.",
                    )
                )
        for row in table.rows:
            rows[key_of(row)] = row


def _is_sources(name: str) -> bool:
    return name.startswith("sources") and name.endswith(".toml")


def _read(folders: tuple[Path, ...], tables: Path) -> tuple[Catalogue, list[CatalogueError]]:
    """Read all layers; the catalogue is only fit for use when there is no problem."""
    reading = _Reading()
    reading.read_folder(tables, "shipped")
    for folder in folders:
        reading.read_folder(folder, folder.resolve().name)
    edition = _edition(tables / EDITION, reading)
    catalogue = Catalogue(
        edition=edition,
        layers=tuple(reading.layers),
        sources=MappingProxyType(reading.sources),
        tables=MappingProxyType({c: tuple(rows.values()) for c, rows in reading.tables.items()}),
    )
    return catalogue, reading.problems


def _edition(path: Path, reading: _Reading) -> str:
    try:
        name = path.read_text(encoding="utf-8").strip()
    except OSError:
        name = ""
    if not name:
        reading.problems.append(
            CatalogueError("the edition is missing", EDITION, "Install cubital again.")
        )
    return f"{name}+{reading.digest.hexdigest()[:8]}"


def check_catalogue(*folders: Path, tables: Path = TABLES) -> tuple[CatalogueError, ...]:
    """
    Every problem of the shipped tables with the laboratory's folders laid over them.

    What refers to other rows is looked at only once every row can be read, so that one slip is
    not reported many times.

    Args:
        folders: of the laboratory, lowest layer first.
        tables: the shipped folder.
    """
    catalogue, problems = _read(folders, tables)
    return tuple(problems or check_rows(catalogue))


def load_catalogue(*folders: Path, tables: Path = TABLES) -> Catalogue:
    """
    The shipped tables with the laboratory's folders laid over them, checked.

    Args:
        folders: of the laboratory, lowest layer first.
        tables: the shipped folder.

    Raises:
        CatalogueError: the first problem.
    """
    catalogue, problems = _read(folders, tables)
    problems = problems or check_rows(catalogue)
    if problems:
        raise problems[0]
    return catalogue


@functools.cache
def shipped() -> Catalogue:
    """The shipped tables alone, read once."""
    return load_catalogue()
