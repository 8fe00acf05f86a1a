"""
The closed vocabularies of the tables, and what each field may hold.

These are words that rules know by name: a new word here is new code somewhere.  Codes that a
laboratory may add to (tests, additives, sites, conditions …) are references between tables.
"""

from __future__ import annotations

from cubital.catalogue import (
    model,
    model_bench,
    model_chair,
    model_draw,
    model_logbook,
    model_quality,
    model_reception,
    model_way,
)

SEVERITIES = ("stop", "ask", "note")
ROUTES = ("venous", "capillary")
FORMS = ("evacuated", "micro", "culture_bottle", "gas_syringe")
ORDER_CLASSES = (
    "culture", "plain", "citrate", "citrate_esr", "clot_activator", "serum_gel", "heparin_na",
    "heparin_li", "edta", "acd", "fluoride", "trace", "gas",
)  # fmt: skip
HANDLING_NEEDS = (
    "ice_slurry", "never_chilled", "dark", "warm_37c", "no_tourniquet", "filled_whole", "no_fist",
    "to_lab_within_min", "spin_within_min", "upright", "no_alcohol_swab", "quarantine_air",
)  # fmt: skip
PREPARATION_NEEDS = (
    "fasting_h", "after_dose_h", "before_dose", "supine_min", "seated_min", "clock_from_to",
    "no_smoking_h", "no_exercise_h", "upright_h", "no_biotin_h",
)  # fmt: skip
LOG_HEADINGS = ("incident", "non_conformance", "refusal", "override", "prick")
MATRICES = ("", "serum", "plasma", "whole_blood", "broth")
MOMENTS = ("before_needle", "needle_in", "blood_flows", "filling", "before_out", "after")
TIMED_NEEDS = ("to_lab_within_min", "spin_within_min")
"""Needs of handling.csv whose value is a number of minutes."""

WORDS: dict[tuple[type[model.Row], str], tuple[str, ...]] = {
    (model.ClosureColour, "ink"): ("#000000", "#ffffff"),
    (model.Additive, "order_class"): ORDER_CLASSES,
    (model.Additive, "yields"): ("serum", "plasma", "whole_blood", "broth"),
    (model.Container, "form"): FORMS,
    (model.DeadVolume, "form"): FORMS,
    (model.Test, "matrix"): ("serum", "plasma", "serum_plasma", "whole_blood", "broth"),
    (model.Handling, "need"): HANDLING_NEEDS,
    (model.Preparation, "need"): PREPARATION_NEEDS,
    (model.Preparation, "severity"): SEVERITIES,
    (model.Stability, "matrix"): ("whole_blood", "serum_plasma"),
    (model.Stability, "condition"): ("room", "fridge", "frozen"),
    (model.NeedleBore, "wall"): ("nominal", "regular", "thin", "extra_thin"),
    (model.Device, "route"): ROUTES,
    (model.Device, "draws_by"): ("vacuum", "plunger", "drops"),
    (model.DeviceRule, "veins"): ("any", "good", "thin", "fragile", "hand"),
    (model.OrderProfile, "route"): ROUTES,
    (model.OrderPlace, "order_class"): ORDER_CLASSES,
    (model.Site, "route"): (*ROUTES, "never"),
    (model.Site, "verdict"): ("allowed", "by_order", "never"),
    (model.Site, "limb"): ("", "arm", "leg"),
    (model.SiteCondition, "scope"): ("arm", "below", "site"),
    (model.SiteCondition, "severity"): ("stop", "ask"),
    (model.PatientCaution, "severity"): SEVERITIES,
    (model.BloodVolume, "sex"): ("any", "female", "male"),
    (model.BloodLimit, "measure"): ("percent_of_tbv", "ml_per_kg", "ml"),
    (model.BloodLimit, "severity"): ("stop", "ask"),
    (model.AimRule, "aim"): ("fewest_tubes", "least_blood"),
    (model.Haematocrit, "sex"): ("any", "female", "male"),
    (model_chair.Reminder, "moment"): MOMENTS,
    (model_logbook.LogKind, "heading"): LOG_HEADINGS,
    (model_logbook.WasteStream, "container"): ("bag", "box"),
    (model_reception.ReceptionRule, "severity"): SEVERITIES,
    (model_bench.SpinProgramme, "temperature"): ("room", "cold", "warm"),
    (model_bench.SpinUse, "need"): ("", "ice_slurry", "warm_37c"),
    (model_bench.AliquotRank, "code"): ("labile", "must", "rest"),
    (model_bench.StorageKind, "condition"): ("room", "fridge", "frozen"),
    (model_bench.Retention, "matrix"): MATRICES,
    (model_bench.Discard, "matrix"): MATRICES,
    (model_reception.Interference, "direction"): ("high", "low", "either"),
    (model_way.TemperatureBand, "condition"): ("room", "fridge", "frozen", "warm"),
    (model_chair.Mishap, "whom"): ("patient", "collector", "place"),
    (model_quality.Indicator, "kind"): ("share", "rate", "ratio", "time"),
    (model_quality.IndicatorLevel, "level"): ("high", "low", "p25", "p50", "p75"),
    (model_quality.RunRule, "kind"): ("beyond", "side", "trend"),
}

REFERENCES: dict[tuple[type[model.Row], str], tuple[type[model.Row], ...]] = {
    (model.Additive, "colour"): (model.ClosureColour,),
    (model.Ratio, "additive"): (model.Additive,),
    (model.Mixing, "additive"): (model.Additive,),
    (model.FillLimit, "additive"): (model.Additive,),
    (model.Container, "additive"): (model.Additive,),
    (model.DeadVolume, "station"): (model.Station,),
    (model.Bench, "station"): (model.Station,),
    (model.Test, "bench"): (model.Bench,),
    (model.AcceptedAdditive, "test"): (model.Test,),
    (model.AcceptedAdditive, "additive"): (model.Additive,),
    (model.TestVolume, "test"): (model.Test,),
    (model.Handling, "test"): (model.Test,),
    (model.Preparation, "test"): (model.Test,),
    (model.Stability, "test"): (model.Test,),
    (model.PanelMember, "panel"): (model.Panel,),
    (model.PanelMember, "member"): (model.Test, model.Panel),
    (model.NeedleBore, "gauge"): (model.Needle,),
    (model_way.Cooling, "condition"): (model_way.TemperatureBand,),
    (model_reception.Interference, "test"): (model.Test,),
    (model_reception.Examination, "material"): (model_reception.Material,),
    (model_bench.SpinUse, "additive"): (model.Additive,),
    (model_bench.Retention, "material"): (model_reception.Material,),
    (model_bench.Retention, "storage"): (model_bench.StorageKind,),
    (model_bench.Discard, "material"): (model_reception.Material,),
    (model_bench.Discard, "scheme"): (model_logbook.WasteStream,),
    (model_quality.IndicatorReason, "indicator"): (model_quality.Indicator,),
    (model_quality.IndicatorLevel, "indicator"): (model_quality.Indicator,),
    (model_chair.FirstAid, "mishap"): (model_chair.Mishap,),
    (model_chair.FollowUp, "mishap"): (model_chair.Mishap,),
    (model.DeviceRule, "device"): (model.Device,),
    (model.OrderPlace, "profile"): (model.OrderProfile,),
}
"""Fields that hold the first key field of a row of another table (of one of several)."""

TOPICS: dict[tuple[type[model.Row], str], str] = {
    (model.BloodVolume, "choice"): "tbv-per-kg",
    (model.BloodLimit, "policy"): "blood-limit",
}
"""Fields that hold the bare option of a fixed topic; every other ``choice`` is topic:option."""

POSITIVE: dict[type[model.Row], tuple[str, ...]] = {
    model.Ratio: ("blood_parts", "additive_parts"),
    model.FillLimit: ("maximum_percent",),
    model.Container: ("nominal_ul", "height_mm", "diameter_mm"),
    model.Station: ("max_tests_per_tube",),
    model.Test: ("containers_needed",),
    model.TestVolume: ("volume_ul",),
    model.Needle: ("gauge", "outer_mm"),
    model.NeedleBore: ("gauge", "inner_mm"),
    model.OrderPlace: ("position",),
    model_bench.Centrifuge: ("places", "radius_mm", "highest_rpm", "step_rpm"),
    model_bench.SpinProgramme: ("minutes",),
    model.BloodVolume: ("ml_per_kg",),
    model.BloodLimit: ("window_h",),
    model.Haematocrit: ("percent",),
    model.CultureVolume: ("sets", "first_set_ul", "bottles_per_set"),
    model_quality.RunRule: ("points", "of_points"),
    model.LabelSize: (
        "width_mm", "height_mm", "page_width_mm", "page_height_mm", "columns", "rows",
    ),
}  # fmt: skip
"""Numbers that must be above 0; every other number must not be negative."""

RANGES: tuple[tuple[type[model.Row], str, str, bool], ...] = (
    (model.Mixing, "inversions_low", "inversions_high", False),
    (model.FillLimit, "minimum_percent", "maximum_percent", False),
    (model.DeviceRule, "age_from_days", "age_to_days", True),
    (model.Site, "age_from_days", "age_to_days", True),
    (model.BloodVolume, "age_from_days", "age_to_days", True),
    (model_draw.WeightBand, "age_from_days", "age_to_days", True),
    (model_draw.WeightBand, "weight_from_g", "weight_to_g", True),
    (model.BloodLimit, "age_from_days", "age_to_days", True),
    (model.AimRule, "age_from_days", "age_to_days", True),
    (model.Haematocrit, "age_from_days", "age_to_days", True),
    (model.CultureVolume, "weight_from_g", "weight_to_g", True),
    (model_bench.Centrifuge, "lowest_rpm", "highest_rpm", True),
    (model_quality.RunRule, "points", "of_points", False),
    (model_quality.AgeGroup, "age_from_days", "age_to_days", True),
)
"""Table, low field, high field, and whether the high end must lie above the low one."""

EVERYBODY_DAYS = 54786
"""150 years of 365.25 days, rounded down: the end of the last age band."""
