"""The JSON shapes of plans and answers: they keep to their schemas and come back as they went."""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cubital.draw import (
    OnHand,
    Place,
    add_on,
    add_on_to,
    plan_draw,
    plan_from,
    plan_to,
    short_to,
    what_fits,
)
from cubital.errors import InputError
from cubital.requisition.values import Requisition
from tests.draw.asking import CATALOGUE, asked
from tests.draw.hands import MORNING, someone
from tests.strategies import places, requisitions

PAGE = Path(__file__).parents[2] / "docs" / "json-shapes.md"
SHAPES = ("plan-1", "short-1", "add-on-1")
MANY = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def checker(name: str) -> jsonschema.Draft202012Validator:
    """The validator of a shipped schema, its formats checked too."""
    text = files("cubital.draw").joinpath("schema", f"{name}.json").read_text(encoding="utf-8")
    found = json.loads(text)
    jsonschema.Draft202012Validator.check_schema(found)
    return jsonschema.Draft202012Validator(
        found, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


PLAN, SHORT, ADD_ON = (checker(name) for name in SHAPES)


def wire(shape: Mapping[str, Any]) -> Any:
    """What arrives when it is written as JSON and read again."""
    return json.loads(json.dumps(shape, ensure_ascii=False))


@MANY
@given(requisitions(max_tests=8), places(), st.booleans())
def test_every_plan_keeps_to_its_schema_and_comes_back(
    requisition: Requisition, place: Place, confirmed: bool
) -> None:
    """Written, checked, read: the same plan."""
    drawn = plan_draw(requisition, CATALOGUE, place, now=MORNING, limit_confirmed=confirmed)
    sent = wire(plan_to(drawn, CATALOGUE))
    PLAN.validate(sent)
    assert plan_from(sent) == drawn


@MANY
@given(requisitions(max_tests=8), places(), st.integers(0, 12_000))
def test_every_short_sample_keeps_to_its_schema(
    requisition: Requisition, place: Place, obtained: int
) -> None:
    """Whatever fits."""
    answer = what_fits(requisition, obtained, CATALOGUE, place, now=MORNING)
    sent = wire(short_to(answer, CATALOGUE))
    SHORT.validate(sent)
    assert sent["used_ul"] + sent["left_ul"] == obtained


def test_an_add_on_keeps_to_its_schema() -> None:
    """With a test that is added and one that needs a draw."""
    specimen = OnHand("A1", "gel-5", MORNING, 3000, tests=("creatinine",))
    answer = add_on(asked("tsh", "bilirubin-total", "fbc"), [specimen], CATALOGUE, now=MORNING)
    sent = wire(add_on_to(answer, CATALOGUE))
    ADD_ON.validate(sent)
    assert [one["test"]["code"] for one in sent["added"]] == ["tsh", "bilirubin-total"]
    assert [one["test"]["code"] for one in sent["needs_draw"]] == ["fbc"]
    assert sent["findings"]


def test_names_stand_beside_codes() -> None:
    """A reader without the catalogue can show the plan."""
    sent = plan_to(plan_draw(asked("pt-inr", patient=someone()), CATALOGUE, now=MORNING), CATALOGUE)
    (tube,) = sent["containers"]
    assert tube["additive"]["name"] == CATALOGUE.additives["na_citrate_9nc"].name
    assert tube["colour"]["name"] == "light blue"
    assert tube["tests"][0]["name"] == CATALOGUE.tests["pt-inr"].name
    assert sent["device"]["name"]
    assert all(one["meaning"] for one in sent["choices"])


@pytest.mark.parametrize(
    "spoil",
    [
        {"schema": "cubital.plan/2"},
        {"aim": "most_tubes"},
        {"extra": 1},
        {"planned_at": 12},
        {"allowance": {}},
    ],
)
def test_the_schema_refuses_a_spoilt_plan(spoil: dict[str, object]) -> None:
    """A schema that lets everything through would prove nothing."""
    sent = wire(plan_to(plan_draw(asked("fbc"), CATALOGUE, now=MORNING), CATALOGUE))
    PLAN.validate(sent)
    with pytest.raises(jsonschema.ValidationError):
        PLAN.validate({**sent, **spoil})


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        ({"schema": "cubital.plan/2"}, "cubital.plan/1"),
        ({"containers": [{}]}, "cannot be read"),
        ({"planned_at": "this morning"}, "cannot be read"),
        ({"findings": [{"code": "x"}]}, "cannot be read"),
    ],
)
def test_a_plan_that_cannot_be_read_back_is_one_sentence(
    spoil: dict[str, object], words: str
) -> None:
    """What is wrong and what to give instead."""
    sent = wire(plan_to(plan_draw(asked("fbc"), CATALOGUE, now=MORNING), CATALOGUE))
    with pytest.raises(InputError, match=words):
        plan_from({**sent, **spoil})


def test_every_field_of_the_shapes_is_on_the_page_about_them() -> None:
    """docs/json-shapes.md names each shape and each of its top fields."""
    page = PAGE.read_text(encoding="utf-8")
    for validator in (PLAN, SHORT, ADD_ON):
        assert f"`{validator.schema['title']}`" in page
        for name in validator.schema["properties"]:
            assert f"`{name}`" in page, f"{validator.schema['title']}: {name}"


def test_the_container_on_the_page_keeps_to_the_schema() -> None:
    """The example is one that a plan could give."""
    page = PAGE.read_text(encoding="utf-8")
    block = page.split("```json\n")[1].split("```")[0]
    example = json.loads(block)
    of_a_container = {"$ref": "#/$defs/container", "$defs": PLAN.schema["$defs"]}
    jsonschema.Draft202012Validator(of_a_container).validate(example)
    assert example["tests"]
