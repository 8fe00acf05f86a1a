"""Every slip in a table is told with file, row, field and mend."""

from pathlib import Path

import pytest

from cubital.catalogue import check_catalogue
from cubital.catalogue.check import loinc_check_digit
from tests.catalogue.small import SMALL, write


def problems(tables: Path) -> list[str]:
    """Every sentence said of these tables."""
    return [str(problem) for problem in check_catalogue(tables=tables)]


def test_the_small_tables_are_sound(tmp_path: Path):
    """Otherwise the tests below would prove nothing."""
    assert problems(write(tmp_path)) == []


SLIPS = [
    ("tests", "2823-3", "2823-4",
     ("tests.csv, row 2, loinc: the check digit of 2823-4 does not fit. "
     "Look the code up again (2823 would end in 3).")),
    ("tests", "2823-3", "K2823",
     ("tests.csv, row 2, loinc: “K2823” is not a LOINC code. "
     "Write digits, a hyphen and the check digit, or leave the cell empty.")),
    ("tests", "Potassium,K,", "Potassium,Potassium serum,",
     "tests.csv, row 2, short: “Potassium serum” has 15 signs. Write at most 12."),
    ("tests", "potassium,Potassium,K,2823-3,chem", "potassium,Potassium,K,2823-3,chemm",
     ("tests.csv, row 2, bench: “chemm” is not in benches.csv. "
     "Write chem, or add it to benches.csv.")),
    ("tests", "serum_plasma,no", "serumplasma,no",
     "tests.csv, row 2, matrix: “serumplasma” is not known here. Write serum_plasma."),
    ("tests", "sodium,Sodium,", "Sodium Ion,Sodium,",
     ("tests.csv, row 3, code: “Sodium Ion” is not a code. "
     "Write lower-case letters, digits and hyphens.")),
    ("tests", ",hgb,", ",salts,",
     ("panels.csv, row 2, aliases: “salts” also means haemoglobin of tests.csv. "
     "Give one of them another name.")),
    ("tests", "2951-2", "2823-3",
     ("tests.csv, row 3, loinc: “2823-3” also means potassium of tests.csv. "
     "Give one of them another name.")),
    ("tests", "no,1,hgb", "no,0,hgb",
     "tests.csv, row 4, containers_needed: 0 cannot be. Write a number above 0."),
    ("test_volumes", "potassium,20,memory", "potassium,20,memo",
     ("test_volumes.csv, row 2, source: no source is called “memo”. "
     "Write memory, or add [memo] to sources.toml.")),
    ("test_volumes", "potassium,20", "potassium,0",
     "test_volumes.csv, row 2, volume_ul: 0 cannot be. Write a number above 0."),
    ("test_volumes", "potassium,20,memory\n", "",
     "tests.csv, row 2, code: potassium has no row in test_volumes.csv. Add one."),
    ("test_additives", "potassium,clot,0,memory\n", "",
     "tests.csv, row 2, code: potassium has no row in test_additives.csv. Add one."),
    ("test_additives", "sodium,edta,1", "sodium,edta,0",
     ("test_additives.csv, row 3, rank: rank 0 of sodium stands twice. "
     "Give each additive its own rank.")),
    ("test_additives", "renin,edta", "renin,clot",
     ("test_additives.csv, row 6, additive: renin is done on plasma and clot yields serum. "
     "Take the row out, or mend the matrix in tests.csv.")),
    ("containers", "clot-4,clot activator 4 mL,clot", "clot-4,clot activator 4 mL,edta",
     ("tests.csv, row 2, code: no container holds what potassium accepts. "
     "Add a container, or accept another additive.")),
    ("containers", "evacuated,4000", "evacuated,-4000",
     "containers.csv, row 2, nominal_ul: -4000 cannot be. Write a number above 0."),
    ("dead_volumes", "haem,micro,60,memory\n", "",
     ("tests.csv, row 4, bench: station haem takes haemoglobin but has no row for form micro in "
     "dead_volumes.csv. Add one.")),
    ("closure_colours", "#c0392b", "C0392B",
     "closure_colours.csv, row 2, rgb: “C0392B” is no colour. Write it like #9fd3f0."),
    ("closure_colours", "#ffffff", "white",
     ("closure_colours.csv, row 2, ink: “white” is not known here. "
     "Write one of #000000, #ffffff.")),
    ("mixing", "edta,mixing-turns:published,8,10", "edta,mixing-turns:published,10,8",
     ("mixing.csv, row 3, inversions_high: inversions_low 10 is not below inversions_high 8. "
     "Write a number above 10.")),
    ("mixing", "edta,mixing-turns:published,8,10,paper\n", "",
     ("additives.csv, row 3, code: edta has no row in mixing.csv that holds by default. "
     "Add one to mixing.csv.")),
    ("mixing", "clot,mixing-turns:local", "clot,local",
     ("mixing.csv, row 4, choice: “local” is no option of choices.csv. "
     "Add the option there; the form is topic:option.")),
    ("blood_volumes", "low,any", "lowest,any",
     ("blood_volumes.csv, row 2, choice: “lowest” is no option of choices.csv. "
     "Write low, or add the option there.")),
    ("choices", "blood-limit,careful,yes", "blood-limit,careful,no",
     ("choices.csv, row 4, default: the question blood-limit has no default. "
     "Write yes in one of its rows.")),
    ("choices", "renin-cooling,ice,no", "renin-cooling,ice,yes",
     ("choices.csv, row 6, default: the question renin-cooling has a second default. "
     "Write yes in one row only.")),
    ("order_profiles", "skin,by the paper,capillary,yes", "skin,by the paper,capillary,no",
     ("order_profiles.csv, row 3, default: the capillary route has no default. "
     "Write yes in one of its rows.")),
    ("order_of_draw", "vein,edta,2,paper\n", "",
     ("order_profiles.csv, row 2, code: the order vein has no place for edta. "
     "Add it to order_of_draw.csv.")),
    ("handling", "renin,spin_within_min,60", "renin,spin_within_min,",
     "handling.csv, row 4, value: spin_within_min cannot have the value 0. Write minutes."),
    ("handling", "potassium,no_fist,", "potassium,no_fist,5",
     "handling.csv, row 6, value: no_fist cannot have the value 5. Leave the cell empty."),
    ("handling", "no_fist", "no_fists",
     "handling.csv, row 6, need: “no_fists” is not known here. Write no_fist."),
    ("preparation", "supine_min,30,,ask", "supine_min,30,10,ask",
     ("preparation.csv, row 2, high: low 30 is above high 10. "
     "Write a larger number, or 0 for no upper end.")),
    ("preparation", ",ask,Lie", ",warn,Lie",
     "preparation.csv, row 2, severity: “warn” is not known here. Write one of stop, ask, note."),
    ("panel_members", "admission,sodium", "lytes,admission",
     ("panel_members.csv, row 5, member: the panels go in a circle "
     "(lytes → admission → lytes). Take this member out, or another of the circle.")),
    ("panel_members", "lytes,sodium", "lytes,lytes",
     ("panel_members.csv, row 2, member: the panels go in a circle (lytes → lytes). "
     "Take this member out, or another of the circle.")),
    ("panel_members", "lytes,potassium", "lytes,potasium",
     ("panel_members.csv, row 3, member: “potasium” is not in tests.csv or panels.csv. "
     "Write potassium, or add it to tests.csv or panels.csv.")),
    ("panels", "admission,Admission panel,,,memory\n",
     "admission,Admission panel,,,memory\nempty,Empty,,,memory\n",
     "panels.csv, row 4, code: the panel empty is empty. Add rows to panel_members.csv."),
    ("device_rules", "straight,21", "straight,22",
     ("device_rules.csv, row 2, gauge: straight cannot have gauge 22. "
     "Write 0 for a lancet and a gauge of needles.csv for a needle.")),
    ("sites", "femoral,femoral vein,never,never", "femoral,femoral vein,venous,never",
     ("sites.csv, row 3, verdict: route venous and verdict never contradict each other. "
     "Write never in both or in neither.")),
    ("aims", "2192,54786", "3000,54786",
     "aims.csv, row 3, age_from_days: nothing is said from 2192 to 3000. Write 2192."),
    ("aims", "2192,54786", "2000,54786",
     ("aims.csv, row 3, age_from_days: the band begins at 2000 and the one before it ends at "
     "2192. Write 2192, or withdraw the other row.")),
    ("haematocrits", "0,54786", "0,30000",
     "haematocrits.csv, row 2, age_to_days: nothing is said from 30000 on. Write 54786."),
    ("haematocrits", "54786,50", "54786,100",
     "haematocrits.csv, row 2, percent: 100 percent cannot be. Write percent."),
    ("blood_limits", "0,54786", "0,60000",
     ("blood_limits.csv, row 2, age_to_days: 60000 days are more than 150 years. "
     "Write at most 54786.")),
    ("blood_limits", "0,54786", "90,30",
     ("blood_limits.csv, row 2, age_to_days: age_from_days 90 is not below age_to_days 30. "
     "Write a number above 90.")),
]  # fmt: skip


@pytest.mark.parametrize(("stem", "old", "new", "sentence"), SLIPS)
def test_a_slip_is_told(tmp_path: Path, stem: str, old: str, new: str, sentence: str):
    """One slip in one table gives its sentence, first of what is told."""
    text = SMALL[f"{stem}.csv"]
    assert old in text
    told = problems(write(tmp_path, **{stem: text.replace(old, new, 1)}))
    assert told[:1] == [sentence]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("title = 3", "sources.toml, [title]: the line stands outside a source."),
        ("[a]\ntitel = 'x'", "sources.toml, [a]: no field is called “titel”. Write title."),
        ("[a]\ntitle = 'x'\nyear = '2001'",
         "sources.toml, [a]: year cannot be '2001'. Write a whole number."),
        ("[a]\ntitle = 3", "sources.toml, [a]: title cannot be 3. Write a text in quotes."),
        ("[a]\nyear = 2001", "sources.toml, [a]: the title is missing. Write title = "),
        ("[a]\ntitle = 'x'\nbasis = 'hearsay'",
         ("sources.toml, [a]: basis cannot be “hearsay”. "
         "Write one of published, common practice, from memory.")),
        ("[a]\ntitle = 'x'\nbasis = 'published'",
         "sources.toml, [a]: a published source has not been seen by anybody. "),
        ("[withdrawn]\ntitle = 'x'", "sources.toml, [withdrawn]: the key is taken"),
        ("[a\n", "sources.toml: the file is not TOML: "),
    ],
)  # fmt: skip
def test_a_spoilt_source_is_told(tmp_path: Path, text: str, sentence: str):
    """Sources are checked field by field."""
    assert problems(write(tmp_path, sources_toml=text))[0].startswith(sentence)


def test_loinc_check_digits():
    """
    Codes with their check digit.

    Source: LOINC Users' Guide, check digit (mod 10); codes from memory.
    """
    for code in ("2823-3", "718-7", "2951-2", "6690-2", "4548-4", "2345-7", "1742-6"):
        stem, digit = code.split("-")
        assert loinc_check_digit(stem) == int(digit)
