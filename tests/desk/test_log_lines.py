"""What the desk says on standard error when it fails: where, and nothing about anybody."""

from __future__ import annotations

import io
import logging
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.test import Client, RequestFactory

from cubital.desk.log_lines import NO_ROUTE, NamelessFormatter

TYPED = "Drumlin, Ash"


@pytest.fixture
def said() -> Iterator[io.StringIO]:
    """What stands in the log of failed requests, written as the desk writes it."""
    text = io.StringIO()
    handler = logging.StreamHandler(text)
    handler.setFormatter(NamelessFormatter())
    logger = logging.getLogger("django.request")
    logger.addHandler(handler)
    yield text
    logger.removeHandler(handler)


def test_every_line_of_the_desk_is_written_so() -> None:
    """Whatever logger says something, the one handler leaves out what came from outside."""
    logging_ = settings.LOGGING
    assert set(logging_["loggers"]) == {"cubital", "django.request", "django.security"}
    assert all(each["handlers"] == ["stderr"] for each in logging_["loggers"].values())
    made = logging_["formatters"][logging_["handlers"]["stderr"]["formatter"]]
    assert made == {"()": "cubital.desk.log_lines.NamelessFormatter"}


def test_a_page_that_fails_names_no_patient(
    signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch, said: io.StringIO
) -> None:
    """Its address holds a patient's number and its errors what was typed; neither is written."""

    def fails(number: str) -> None:
        try:
            raise KeyError(f"Key (number)=({number}) already exists")
        except KeyError as error:
            raise ValueError(TYPED) from error

    client = signed_in("collector")
    client.raise_request_exception = False
    monkeypatch.setattr("cubital.desk.record.selectors.patient_by_number", fails)
    assert client.get("/patients/OV-10001/").status_code == 500
    lines = said.getvalue()
    assert "Internal Server Error: /patients/<path:number>/" in lines
    assert "in fails" in lines
    assert lines.index("builtins.KeyError") < lines.index("builtins.ValueError")
    assert "OV-10001" not in lines
    assert TYPED not in lines


def test_a_line_without_a_request_stays_as_it_is() -> None:
    """Counts and words of the desk's own are not touched."""
    record = logging.LogRecord("cubital", logging.WARNING, "", 1, "%d of %s", (3, "them"), None)
    assert NamelessFormatter().format(record) == "3 of them"


def test_an_address_that_nobody_knows_is_not_repeated() -> None:
    """What somebody typed into the address bar may be a name."""
    request = RequestFactory().get("/Drumlin/")
    record = logging.LogRecord(
        "django.request", logging.ERROR, "", 1, "%s: %s", ("Failed", request.path), None
    )
    record.request = request
    assert NamelessFormatter().format(record) == f"Failed: {NO_ROUTE}"
