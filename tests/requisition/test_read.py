"""Requisitions from files, good and bad."""

import json
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import Catalogue, shipped
from cubital.errors import RequisitionError
from cubital.requisition import read_requisitions, requisition_from
from cubital.requisition.read import LARGEST_BYTES
from cubital.requisition.values import Answers, Condition, OrderedTest, PriorDraw, Requisition
from tests.requisition.conftest import NOW
from tests.requisition.examples import WHOLE, small

HEADER = "number,patient_number,family_name,birth_date,sex,weight_g,tests\n"


def read(data: bytes | str, name: str = "morning") -> tuple[Requisition, ...]:
    """Read with the shipped tables on 2 March 2026."""
    return read_requisitions(data, name=name, catalogue=shipped(), now=NOW)


def told(data: bytes | str, name: str = "morning.csv") -> str:
    """The sentence with which a file is refused."""
    with pytest.raises(RequisitionError) as caught:
        read(data, name)
    return str(caught.value)


def test_json_holds_one_or_a_list():
    """The content says what it is when the name does not."""
    one = requisition_from(WHOLE, catalogue=shipped(), now=NOW)
    assert read(json.dumps(WHOLE)) == (one,)
    assert read(b"\xef\xbb\xbf" + json.dumps([WHOLE, small()]).encode())[0] == one
    assert read(json.dumps(WHOLE), "a.json") == (one,)


def test_a_row_says_all_that_json_says():
    """Every column of the CSV file, and the same requisition as from JSON."""
    header = (
        "number,patient_number,family_name,given_name,birth_date,sex,weight_g,height_mm,"
        "haematocrit_percent,veins,conditions,prior_draws,tests,collect_at,requester,ward,urgent,"
        "fasting_h,since_dose_h,next_dose_due,seated_min,supine_min,remarks\n"
    )
    row = (
        "R-2026-0007,OV-0417,Sorrel,Ines,1988-11-05,female,61000,1650,41.5,thin,"
        "mastectomy:left;haematoma:right@cephalic;latex_allergy,2026-02-27T07:30=9000,"
        "potassium=1;glucose,2026-03-02T07:30,Dr Alder,Pass post,yes,10.5,,no,15,,"
        '"Second line\nbelow."\n'
    )
    [requisition] = read(header + row)
    assert requisition.patient.conditions == (
        Condition("mastectomy", "left"),
        Condition("haematoma", "right", "cephalic"),
        Condition("latex_allergy"),
    )
    taken_at = datetime(2026, 2, 27, 7, 30, tzinfo=NOW.tzinfo)
    assert requisition.patient.prior_draws == (PriorDraw(taken_at, 9000),)
    assert requisition.tests == (OrderedTest("potassium", 1), OrderedTest("glucose", 5))
    assert requisition.collect_at == NOW - timedelta(minutes=30)
    assert requisition.answers == Answers(10.5, None, False, 15.0, None)
    from_json = requisition_from(WHOLE, catalogue=shipped(), now=NOW)
    assert requisition.urgent
    assert requisition.remarks == from_json.remarks
    assert (requisition.patient.weight_g, requisition.patient.height_mm) == (61000, 1650)


def test_spreadsheets_may_add_their_marks():
    """A byte-order mark, Windows line ends, blank rows and blanks around cells are harmless."""
    data = b"\xef\xbb\xbf" + (HEADER + "R-1, P-1 ,Sorrel,,,,potassium\n\n,,,,,,\n").encode()
    [requisition] = read(data.replace(b"\n", b"\r\n"))
    assert requisition.patient.number == "P-1"


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "morning.csv: the file is empty. Give a requisition in JSON or CSV."),
        (b" \r\n", "morning.csv: the file is empty. Give a requisition in JSON or CSV."),
        (HEADER, "morning.csv: no requisition is in the file. Give at least one."),
        (
            HEADER.encode() + "R-1,P-1,Sørensen,,,,potassium".encode("latin-1"),
            "morning.csv: line 2 holds a byte (0xf8) that is not UTF-8. Save the file in UTF-8.",
        ),
        (HEADER.encode("utf-16"), "morning.csv: the file is in UTF-16. Save it in UTF-8."),
        (
            HEADER.replace(",", ";"),
            "morning.csv, row 1: the cells are separated by semicolons. Write commas.",
        ),
        (
            HEADER.replace("weight_g", "weight_kg"),
            "morning.csv, row 1: no column is called “weight_kg”. Write weight_g.",
        ),
        (
            HEADER.replace(",tests", ""),
            "morning.csv, row 1: the column tests is missing. Add it.",
        ),
        (
            HEADER.replace("sex", "number"),
            "morning.csv, row 1: the column number stands twice. Take one out.",
        ),
        (
            HEADER + "R-1,P-1,Sorrel,,,potassium\n",
            (
                "morning.csv, row 2: the row has 6 cells and the header 7. "
                "Put a cell that holds a comma in quotes, and leave no column out."
            ),
        ),
        (
            HEADER + "R-1,P-1,1988-11-05,female,61000,,potassium\n",
            (
                "morning.csv, row 2: the cells do not stand under their columns "
                "(birth_date holds “female”, sex holds “61000”). "
                "Move them under the header they belong to."
            ),
        ),
        (
            HEADER + "R-1,P-1,Sorrel,5/11/1988,,,potassium\n",
            (
                "morning.csv, row 2, birth_date: “5/11/1988” cannot be used. "
                "Write a date such as 1961-04-03."
            ),
        ),
        (
            HEADER + "R-1,P-1,Sorrel,2026-03-09,,,potassium\n",
            (
                "morning.csv, row 2, birth_date: the birth date 2026-03-09 lies in the future. "
                "Look the date up."
            ),
        ),
        (
            HEADER + "R-1,P-1,Sorrel,,,-61000,potassium\n",
            (
                "morning.csv, row 2, weight_g: -61000 g cannot be. "
                "Write whole grams, for example 61000 for 61 kg."
            ),
        ),
        (
            HEADER + "R-1,P-1,Sorrel,,,,potasium\n",
            (
                "morning.csv, row 2, tests: no test or panel is called “potasium”. "
                "Did you mean potassium?"
            ),
        ),
        (
            HEADER + "R-1,P-1,Sorrel,,,,potassium=high\n",
            (
                "morning.csv, row 2, tests: “potassium=high” cannot be used. "
                "Write codes separated by ; with a priority such as potassium=1."
            ),
        ),
        (
            HEADER + "R-1,P-1,Sorrel,,,,\n",
            "morning.csv, row 2, tests: no test is asked for. Name at least one test or panel.",
        ),
        (
            HEADER + f"R-1,{'P' * 65},Sorrel,,,,potassium\n",
            "morning.csv, row 2, patient_number: the text has 65 signs. Write at most 64.",
        ),
        (
            HEADER + "R-1,P-1,Sorrel,,,,potassium\nR-1,P-2,Alder,,,,glucose\n",
            (
                "morning.csv, row 3, number: row 2 already has the number R-1. "
                "Give each requisition its own."
            ),
        ),
        (
            HEADER + 'R-1,P-1,"Sorrel,,,,potassium\n',
            (
                "morning.csv, row 2: the row is not CSV (unexpected end of data). "
                "Close quotes and take NUL bytes out."
            ),
        ),
        (
            (HEADER + "R-1,P-1,Sorrel,,,,potassium\n").encode("utf-16-le"),
            "morning.csv: line 1 holds a NUL byte. Save the file in UTF-8.",
        ),
        (
            HEADER.replace(",", "\t") + "R-1\tP-1\tSorrel\t\t\t\tpotassium\n",
            "morning.csv, row 1: the cells are separated by tabs. Write commas.",
        ),
        (
            HEADER + "R-1,P-1,Sor\x00rel,,,,potassium\n",
            (
                "morning.csv, row 2, family_name: the text holds a control sign (U+0000). "
                "Take it out."
            ),
        ),
    ],
)
def test_a_bad_csv_file_is_refused_with_one_sentence(data: bytes | str, sentence: str):
    """Where, what, and what to do."""
    assert told(data) == sentence


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ("{", "morning.json, line 1: this is not JSON (Expecting property name enclosed in"),
        ("[1]", "morning.json, requisition 1: 1 stands where an object is needed. Write"),
        ('"x"', "morning.json: “x” stands where an object is needed. Write { … } with fields."),
        ("[]", "morning.json: no requisition is in the file. Give at least one."),
        ('{"number": NaN}', "morning.json: NaN is no number. Leave the field out."),
        ('{"number": 1, "number": 2}', "morning.json: the field number stands twice. Take one"),
        ("[" * 100_000, "morning.json: the JSON is nested too deeply. Mend it, or write"),
        (f'{{"number": {"9" * 5000}}}', "morning.json: a number has too many digits. Mend it"),
        (json.dumps([small(), small()]), "morning.json, requisition 2, number: requisition 1 "),
        (json.dumps([small(), small(number="R-2", patient_weight_g=-1)]),
         "morning.json, requisition 2, patient.weight_g: -1 g cannot be."),
    ],
)  # fmt: skip
def test_a_bad_json_file_is_refused_with_one_sentence(data: str, sentence: str):
    """Where, what, and what to do."""
    assert told(data, "morning.json").startswith(sentence)


def test_a_file_of_50_mb_is_refused():
    """Before anything is read of it."""
    assert told(b"x" * 50_000_000, "huge.csv") == (
        "huge.csv: the file has 50 MB and at most 10 MB are read at once. "
        "Split it, or plan a long CSV with cubital plan --batch."
    )
    assert LARGEST_BYTES < 50_000_000


@settings(max_examples=60)
@given(
    st.binary(max_size=120)
    | st.text(max_size=120)
    | st.text(alphabet='R1,P;=-"\n\r 0', max_size=60).map(lambda rows: HEADER + rows)
    | st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.sampled_from(["number", "patient", "tests", "answers"]), inner)
        ),
        max_leaves=8,
    ).map(json.dumps)
)
def test_whatever_comes_in_gives_requisitions_or_a_sentence(data: bytes | str):
    """No content raises anything else."""
    sentence, found = "", ()
    try:
        found = read(data)
    except RequisitionError as refused:
        sentence = str(refused)
    assert sentence.startswith("morning") or (found and all(one.tests for one in found))
    assert "\n" not in sentence


def test_catalogue_fixture_is_the_shipped_one(catalogue: Catalogue):
    """The tests above name tests that the shipped tables hold."""
    assert {"potassium", "glucose"} <= set(catalogue.tests)
