"""`cubital plan` on one file."""

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from cubital.catalogue import shipped
from cubital.cli.show_plan import need_words
from cubital.draw import Place, plan_draw
from cubital.draw.shape import plan_to
from cubital.requisition import requisition_from
from tests.catalogue.small import lay
from tests.cli.conftest import NOW
from tests.requisition.examples import WHOLE

Cubital = Callable[..., Result]
Written = Callable[..., Path]


def test_json_is_what_the_core_says(cubital: Cubital, requisition: Path):
    """The same engine, the same findings."""
    now = datetime.fromisoformat(NOW)
    place = Place(altitude_m=1900, order_profile="local", choices={"renin-cooling": "ice"})
    one = requisition_from(WHOLE, catalogue=shipped(), now=now)
    expected = plan_to(plan_draw(one, shipped(), place, now=now), shipped())
    done = cubital(
        "plan", requisition, "--json", "--now", NOW, "--altitude", "1900", "--profile", "local",
        "--choose", "renin-cooling=ice",
    )  # fmt: skip
    assert done.exit_code == 0
    assert json.loads(done.output) == expected


def test_a_list_gives_a_list(cubital: Cubital, tmp_path: Path):
    """Two requisitions of a CSV file, in their order."""
    path = tmp_path / "two.csv"
    path.write_text(
        "number,patient_number,family_name,tests\nR-1,P-1,Sorrel,potassium\nR-2,P-2,Alder,glucose\n",
        encoding="utf-8",
    )
    done = cubital("plan", path, "--json", "--now", NOW)
    assert [plan["requisition"] for plan in json.loads(done.output)] == ["R-1", "R-2"]


def test_the_table_shows_the_whole_plan(cubital: Cubital, tmp_path: Path):
    """Every container with its colour and fill, device, blood, sites, every finding, cautions."""
    document = {**WHOLE, "tests": ["potassium", "pt-inr", "renin", "ammonia"]}
    path = tmp_path / "pass.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    now = datetime.fromisoformat(NOW)
    one = requisition_from(document, catalogue=shipped(), now=now)
    plan = plan_draw(one, shipped(), Place(altitude_m=3400), now=now)
    done = cubital("plan", path, "--now", NOW, "--altitude", "3400")
    shown = " ".join(done.output.split())
    assert done.exit_code == 0
    assert "Requisition R-2026-0007 Sorrel, Ines born 1988-11-05 No OV-0417 URGENT" in shown
    assert plan.edition in shown
    for container in plan.containers:
        assert f"{container.position} ██ {shipped().colours[container.colour].name}" in shown
        assert f"{container.fill_ul / 1000:.2f}" in shown
    assert f"{plan.device.gauge} G" in shown
    assert "excluded left median cubital vein" in shown
    assert {found.severity for found in plan.findings} >= {"ask", "note"}
    for found in plan.findings:
        assert f"{found.severity.upper()} {found.sentence} [{found.source}]" in shown
    for caution in plan.cautions:
        assert caution in shown


def test_why_gives_each_line_its_reason_and_source(cubital: Cubital, requisition: Path):
    """And the sources in full beneath."""
    now = datetime.fromisoformat(NOW)
    one = requisition_from(WHOLE, catalogue=shipped(), now=now)
    plan = plan_draw(one, shipped(), now=now)
    told = " ".join(cubital("plan", requisition, "--now", NOW, "--why").output.split())
    for container in plan.containers:
        for reason in container.reasons:
            assert f"{container.position} {container.container} {reason.sentence}" in told
            source = shipped().sources[reason.source]
            assert f"{source.key}: {' '.join(source.title.split())}" in told


def test_names_are_printed_as_they_are(cubital: Cubital, written: Written):
    """Brackets in a name are no markup, other scripts no trouble."""
    path = written(patient_family_name="[red]Sorrel :smile:", patient_given_name="सुनीता")
    done = cubital("plan", path, "--now", NOW)
    assert "[red]Sorrel :smile:, सुनीता" in done.output


def test_a_test_that_cannot_be_drawn_is_told(cubital: Cubital, written: Written):
    """Never a silent drop: a baby of 500 g who has given all it may."""
    path = written(
        patient_birth_date="2026-03-01",
        patient_weight_g=500,
        patient_prior_draws=[{"taken_at": "2026-03-02T07:00", "volume_ul": 30_000}],
        tests=["potassium"],
    )
    done = cubital("plan", path, "--now", NOW)
    assert done.exit_code == 0
    assert "NOT DRAWN" in done.output


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--choose", "renin-cooling"),
         "--choose: “renin-cooling” is no choice. Write it like renin-cooling=ice."),
        (("--choose", "renin-cooling=snow"),
         "choices.csv, option: renin-cooling cannot be “snow”. Write one of room, ice."),
        (("--choose", "renin=ice"), "choices.csv, topic: no question is called “renin”. Write "),
        (("--now", "soon"), "--now: “soon” is no time. Write it like 2026-03-02T07:30."),
        (("--time-zone", "Ostrel"),
         "--time-zone: no time zone is called “Ostrel”. Write it like Asia/Kathmandu."),
        (("--time-zone", "../x"), "--time-zone: no time zone is called “../x”. "),
        (("--catalogue", "no-such-folder"),
         "no-such-folder: the folder cannot be read (No such file or directory). "),
        (("--batch", "other.csv"), "two files are given. Give one file, or --batch with a CSV"),
    ],
)  # fmt: skip
def test_bad_options_are_one_sentence(
    cubital: Cubital, requisition: Path, words: tuple[str, ...], sentence: str
):
    """What is wrong and what to write, exit code 2."""
    done = cubital("plan", requisition, *words)
    assert done.exit_code == 2
    assert done.stderr.startswith(f"cubital: {sentence}")
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"tests": ["potasium"]}, "no test or panel is called “potasium”. Did you mean potassium?"),
        ({"patient_weight_g": -1}, "patient.weight_g: -1 g cannot be."),
        ({"patient_birth_date": "2030-01-01"}, "the birth date 2030-01-01 lies in the future."),
    ],
)
def test_bad_requisitions_are_one_sentence(
    cubital: Cubital, written: Written, changes: dict[str, Any], sentence: str
):
    """The core's own, exit code 2, nothing planned."""
    done = cubital("plan", written(**changes), "--now", NOW)
    assert done.exit_code == 2
    assert sentence in done.stderr
    assert done.stdout == ""


def test_a_file_of_50_mb_is_refused_unread(cubital: Cubital, tmp_path: Path):
    """By its size."""
    path = tmp_path / "huge.json"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    done = cubital("plan", path)
    assert done.exit_code == 2
    assert "huge.json: the file has 50 MB and at most 10 MB are read at once." in done.stderr


def test_no_file_or_a_missing_one_is_told(cubital: Cubital, tmp_path: Path):
    """Exit code 2."""
    assert "no requisition is given" in cubital("plan").stderr
    missing = cubital("plan", tmp_path / "no.json")
    assert missing.exit_code == 2
    assert "the file cannot be read (No such file or directory)" in missing.stderr


def test_a_laboratory_folder_changes_the_plan_and_is_named(
    cubital: Cubital, requisition: Path, tmp_path: Path
):
    """Its layer stands in the plan, and its volume in the reasons."""
    lab = lay(
        tmp_path / "ostrel", test_volumes="test,volume_ul,source\npotassium,47,common_practice\n"
    )
    done = cubital("plan", requisition, "--now", NOW, "--json", "--catalogue", lab)
    plan = json.loads(done.output)
    assert plan["layers"] == ["shipped", "ostrel"]
    assert "47 µL" in done.output


def test_the_zone_of_the_place_counts(cubital: Cubital, written: Written):
    """A time without a zone is the place's own."""
    path = written(collect_at="2026-03-02T07:30")
    done = cubital("plan", path, "--now", "2026-03-02T06:00", "--time-zone", "Asia/Kathmandu",
                   "--json")  # fmt: skip
    assert json.loads(done.output)["planned_at"] == "2026-03-02T06:00:00+05:45"


def test_needs_in_words():
    """Minutes where the need has them."""
    assert need_words("to_lab_within_min", 15) == "to lab within 15 min"
    assert need_words("ice_slurry", 0) == "ice slurry"


@pytest.mark.parametrize("option", [("--out", "x.jsonl"), ("--jobs", "2")])
def test_what_belongs_to_a_batch_is_refused_without_one(
    cubital: Cubital, requisition: Path, option: tuple[str, str]
):
    """Nobody waits for a file that is never written."""
    done = cubital("plan", requisition, *option)
    assert done.exit_code == 2
    assert "--out and --jobs belong to --batch. Leave them out" in done.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("--now", "0001-01-01"),
        ("--now", "0001-01-01T00:00+14:00", "--time-zone", "Asia/Kathmandu"),
        ("--now", "9999-12-31T23:59-14:00", "--time-zone", "Asia/Kathmandu"),
    ],
)
def test_a_time_at_the_end_of_the_calendar_is_no_time(
    cubital: Cubital, requisition: Path, words: tuple[str, ...]
):
    """It cannot be told in the zone of the place."""
    done = cubital("plan", requisition, *words)
    assert done.exit_code == 2
    assert f"--now: “{words[1]}” is no time." in done.stderr


@pytest.mark.parametrize("columns", [40, 60, 80])
def test_no_figure_is_cut_on_a_narrow_terminal(
    cubital: Cubital, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, columns: int
):
    """Words break; fills, their limits and turns stand whole."""
    monkeypatch.setenv("COLUMNS", str(columns))
    path = tmp_path / "narrow.json"
    document = {**WHOLE, "tests": ["fbc", "pt-inr", "ammonia", "culture-blood", "esr"]}
    path.write_text(json.dumps(document), encoding="utf-8")
    now = datetime.fromisoformat(NOW)
    plan = plan_draw(requisition_from(document, catalogue=shipped(), now=now), shipped(), now=now)
    done = cubital("plan", path, "--now", NOW)
    assert "…" not in done.output
    for one in plan.containers:
        assert f"{one.fill_ul / 1000:.2f}" in done.output
        assert f"{one.fill_min_ul / 1000:.2f}–{one.fill_max_ul / 1000:.2f}" in done.output
