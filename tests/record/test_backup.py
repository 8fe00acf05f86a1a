"""A backup of the desk in use, restored to either database."""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner
from django.db import connection, models
from pytest_django.plugin import DjangoDbBlocker

from cubital.cli import main
from cubital.desk.record import triggers
from cubital.desk.record.backup import kind_of, models_kept
from cubital.desk.record.events import append_events
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Person
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.verify import verify
from tests.postgres import Databases, default_database, free_port
from tests.record.conftest import VENDORS
from tests.record.small_desk import WORD, draw, event
from tests.record.test_kill import Chair, Street
from tests.serving import servers, session_for


def cubital(*arguments: str, url: str, code: int = 0) -> str:
    """Run a command on a database, in this process; gives what it printed."""
    with default_database(url):
        done = CliRunner().invoke(main, arguments)
    assert done.exit_code == code, (arguments, done.output, done.exception)
    return done.output


def as_process(*arguments: str, url: str) -> str:
    """Run a command as a person does, in a process of its own; gives what it printed."""
    done = subprocess.run(
        [sys.executable, "-c", "from cubital.cli import main; main()", *arguments],
        env={**os.environ, "CUBITAL_DATABASE": url, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, (arguments, done.stdout, done.stderr)
    return done.stdout


@contextmanager
def chairs_at_work(url: str, count: int = 4) -> Iterator[list[Chair]]:
    """A real server on the database that Django works on, and chairs that keep it busy."""
    street = Street()
    chairs = [Chair(n, session_for("mira"), street) for n in range(count)]
    with servers(url) as starter:
        street.port = free_port()
        starter.start(street.port)
        for chair in chairs:
            chair.thread.start()
        try:
            yield chairs
        finally:
            street.closing.set()
            for chair in chairs:
                chair.thread.join(60)
    assert [chair.wrong for chair in chairs] == [[]] * count


def test_backups_under_load_restore_to_both_databases(
    database: str, databases: Databases, tmp_path: Path
) -> None:
    """
    Backups by a process of its own while four chairs send: one restores to SQLite, the next to
    PostgreSQL; every chain holds, the projections agree, and every event that was acknowledged
    before its backup began is in it.  Restoring over the desk that is in use is refused.
    """
    before: list[set[str]] = []
    with chairs_at_work(database) as chairs:
        for number, _ in enumerate(VENDORS, 1):
            while sum(len(chair.acknowledged) for chair in chairs) < 40 * number:
                assert all(chair.thread.is_alive() for chair in chairs)
                time.sleep(0.01)
            before.append({uuid for chair in chairs for uuid in list(chair.acknowledged)})
            as_process("backup", str(tmp_path / f"{number}.backup"), url=database)
        over = ("restore", str(tmp_path / "1.backup"), "--overwrite")
        assert "still in use" in cubital(*over, url=database, code=1)
    assert EventRow.objects.count() == sum(len(chair.made) for chair in chairs)
    for number, vendor in enumerate(VENDORS, 1):
        url = databases.empty(vendor)
        said = cubital("restore", str(tmp_path / f"{number}.backup"), url=url)
        assert "every chain holds" in said
        with default_database(url):
            there = set(EventRow.objects.values_list("uuid", flat=True))
            assert before[number - 1] <= there
            assert verify().holds
            assert rebuild(only_compare=True).equal
            assert Person.objects.get(username="mira").check_password(WORD)


def test_a_restored_desk_goes_on(database: str, databases: Databases, tmp_path: Path) -> None:
    """New events follow on the restored chain, new rows get new numbers, the guards are there."""
    append_events(events=draw("D-1", "S-1"), person="mira")
    file = str(tmp_path / "a.backup")
    cubital("backup", file, url=database)
    url = databases.empty(connection.vendor)
    cubital("restore", file, url=url)
    with default_database(url):
        answers = append_events(events=draw("D-2", "S-2"), person="mira")
        assert {str(a.verdict) for a in answers} == {"stored"}
        assert answers[0].sequence == 9
        Person.objects.create(username="new")
        assert triggers.missing(connection) == ()
    assert "valley: 16 events, the chain holds" in cubital("verify", url=url)


def test_a_database_with_something_in_it_is_set_aside_only_when_told(
    database: str, tmp_path: Path
) -> None:
    """Without --overwrite nothing happens; with it what was there is kept beside."""
    append_events(events=draw("D-1"), person="mira")
    file = str(tmp_path / "a.backup")
    cubital("backup", file, url=database)
    append_events(events=draw("D-2"), person="mira")
    connection.close()
    assert "already holds" in cubital("restore", file, url=database, code=1)
    assert EventRow.objects.count() == 10
    connection.close()
    said = cubital("restore", file, "--overwrite", url=database)
    assert "is kept as" in said
    assert EventRow.objects.count() == 5
    kept = said.split("is kept as ")[1].splitlines()[0].rstrip(".")
    if connection.vendor == "sqlite":
        assert "10 events" in cubital("verify", url=f"sqlite:///{kept}")
    else:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT count(*) FROM {kept.removeprefix('schema ')}.record_event")
            assert cursor.fetchone() == (10,)


def test_a_broken_record_is_backed_up_but_restored_only_when_told(
    database: str, databases: Databases, tmp_path: Path
) -> None:
    """The chain that does not hold is named; what was there before stays."""
    append_events(events=[*draw("D-1"), event("incident_recorded", "incident:I-1", what="spill")],
                  person="mira")  # fmt: skip
    with triggers.lifted(connection), connection.cursor() as cursor:
        cursor.execute("UPDATE record_event SET who = 'tove' WHERE sequence = 3")
    broken = EventRow.objects.get(sequence=3).uuid
    file = str(tmp_path / "a.backup")
    cubital("backup", file, url=database)
    said = cubital("verify", url=database, code=1)
    assert broken in said
    url = databases.empty("sqlite")
    assert broken in cubital("restore", file, url=url, code=1)
    assert not Path(url.removeprefix("sqlite:///")).exists()
    assert broken in cubital("restore", file, "--broken", url=url)


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_damaged_file_is_refused_before_anything_changes(database: str, tmp_path: Path) -> None:
    """Cut off, changed in the middle, another format, no file: one sentence each."""
    append_events(events=draw("D-1"), person="mira")
    file = tmp_path / "a.backup"
    cubital("backup", str(file), url=database)
    whole = file.read_bytes()
    text = gzip.decompress(whole)
    damaged = {
        "cut.backup": whole[: len(whole) // 2],
        "short.backup": gzip.compress(b"\n".join(text.splitlines()[:-1]) + b"\n"),
        "changed.backup": gzip.compress(text.replace(b'"valley"', b'"volley"', 1)),
        "other.backup": gzip.compress(b'{"format": "another/1"}\n'),
        "list.backup": gzip.compress(b"[]\n"),
        "empty.backup": b"",
        "text.backup": b"nothing of the kind",
        "headless.backup": gzip.compress(b'{"format": "cubital.backup/1"}\n{"end": true}\n'),
        "endless.backup": gzip.compress(text.replace(b'"sha256"', b'"sum"')),
        "deep.backup": gzip.compress(b"[" * 100_000),
        "newer.backup": gzip.compress(text.replace(b'"0002_events"', b'"9999_later"', 1)),
    }
    connection.close()
    before = Path(database.removeprefix("sqlite:///")).read_bytes()
    for name, content in damaged.items():
        (tmp_path / name).write_bytes(content)
        said = cubital("restore", str(tmp_path / name), "--overwrite", url=database, code=1)
        assert said.startswith("Error: "), (name, said)
        assert len(said.splitlines()) == 1, (name, said)
    cubital("restore", str(tmp_path / "absent.backup"), "--overwrite", url=database, code=1)
    assert Path(database.removeprefix("sqlite:///")).read_bytes() == before


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_backup_file_is_its_owners_alone_and_is_not_replaced_unasked(
    database: str, tmp_path: Path
) -> None:
    """Mode 0600; a second backup of that name is refused; a folder that is not there too."""
    file = tmp_path / "a.backup"
    cubital("backup", str(file), url=database)
    assert file.stat().st_mode & 0o777 == 0o600
    assert "already a file" in cubital("backup", str(file), url=database, code=1)
    cubital("backup", str(file), "--overwrite", url=database)
    nowhere = str(tmp_path / "nowhere" / "a.backup")
    assert "cannot be written" in cubital("backup", nowhere, url=database, code=1)
    assert [each.name for each in tmp_path.iterdir()] == ["a.backup"]


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_backup_never_takes_the_place_of_the_record_itself(database: str, tmp_path: Path) -> None:
    """Not even when told to overwrite, nor by a link to it; nor of a folder or a pipe."""
    append_events(events=draw("D-1"), person="mira")
    record = Path(database.removeprefix("sqlite:///"))
    link, pipe = tmp_path / "link.backup", tmp_path / "pipe"
    link.symlink_to(record)
    os.mkfifo(pipe)
    for own in (record, link):
        said = cubital("backup", str(own), "--overwrite", url=database, code=1)
        assert "is the record itself" in said
    for other in (pipe, tmp_path):
        said = cubital("backup", str(other), "--overwrite", url=database, code=1)
        assert "is no plain file" in said
    assert pipe.is_fifo()
    assert "the chain holds" in cubital("verify", url=database)


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_rebuild_and_verify_and_the_log_from_the_command_line(database: str) -> None:
    """What the commands print, and the exit codes by which another program knows."""
    append_events(events=[*draw("D-1", "S-1"), event("tourniquet_on", "draw:D-7")], person="mira")
    assert "valley: 8 events, the chain holds" in cubital("verify", url=database)
    assert "as the events say" in cubital("rebuild", "--check", url=database)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE record_specimennow SET place = 'nowhere'")
    assert "specimen:S-1" in cubital("rebuild", "--check", url=database, code=1)
    assert "put right" in cubital("rebuild", url=database)
    assert "as the events say" in cubital("rebuild", url=database)
    lines = cubital("events", "list", "--subject", "specimen:S-1", url=database).splitlines()
    assert len(lines) == 3
    assert "no draw D-7" in cubital("events", "list", "--refused", url=database)
    assert "tube_scanned" in cubital("events", "kinds", url=database)


def test_commands_say_in_one_sentence_that_there_is_no_record(
    tmp_path: Path, django_db_blocker: DjangoDbBlocker
) -> None:
    """No file, no tables, and no server: nothing is made by looking."""
    absent = f"sqlite:///{tmp_path / 'absent.sqlite3'}"
    bare = f"sqlite:///{tmp_path / 'bare.sqlite3'}"
    (tmp_path / "bare.sqlite3").touch()
    gone = f"postgresql://nobody@127.0.0.1:{free_port()}/desk"
    with django_db_blocker.unblock():
        for command in ("verify", "rebuild"):
            assert "There is no database" in cubital(command, url=absent, code=2)
            assert "no record of this desk" in cubital(command, url=bare, code=2)
            assert "does not open" in cubital(command, url=gone, code=2)
            export = ("events", "export", str(tmp_path / "lake"))
            assert "There is no database" in cubital(*export, url=absent, code=2)
    assert not (tmp_path / "absent.sqlite3").exists()
    assert not (tmp_path / "lake").exists()


def test_every_column_of_the_desk_can_be_backed_up() -> None:
    """A field of a new type would need a way through the file: its kind must be known."""
    plain = (models.CharField, models.TextField, models.IntegerField, models.AutoField,
             models.FloatField)  # fmt: skip
    for model in models_kept():
        for field in model._meta.concrete_fields:
            end = field
            while end.is_relation:
                end = end.target_field
            assert kind_of(field) != "plain" or isinstance(end, plain), (model, field)
