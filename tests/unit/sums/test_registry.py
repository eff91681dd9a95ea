"""Bench sums as a whole: examples work, keys refuse nonsense, faults speak the person's words."""

from __future__ import annotations

import json
import math

import pytest

from ullage.errors import NotFound, OutOfRange, UllageError
from ullage.sums.bench_sum import BenchSum, figure, in_words_of_keys
from ullage.sums.key import Key, Kind
from ullage.sums.registry import HOMES, bench_sum, bench_sums, work_out


def pairs_of(found: BenchSum) -> dict[str, str]:
    """Return the example of a sum as a mapping."""
    return dict(pair.split("=", 1) for pair in found.example)


def numeric_keys() -> list[tuple[str, str]]:
    """Return every key with a number that stands in an example."""
    return [
        (one.name, key.name)
        for one in bench_sums()
        for key in one.keys
        if key.kind is not Kind.CHOICE and key.name in pairs_of(one)
    ]


@pytest.mark.parametrize("name", HOMES)
def test_the_example_works_and_says_something(name: str) -> None:
    """Every sum answers its own example with finite figures and a sentence."""
    found = bench_sum(name)
    answer = work_out(name, pairs_of(found))
    text = json.dumps(answer.as_json(), allow_nan=False)

    assert "NaN" not in text
    assert answer.sentence.endswith((".", ")", "5 um"))
    assert set(answer.values) == {output.name for output in found.outputs}


@pytest.mark.parametrize(("name", "key"), numeric_keys())
def test_nonsense_is_refused_by_the_name_of_its_key(name: str, key: str) -> None:
    """No value that is no number, infinite or absurd reaches a formula, in any sum."""
    for nonsense in ("nan", "inf", "-inf", "wibble", "", "1e400", "--5", "1e30"):
        with pytest.raises(OutOfRange) as caught:
            work_out(name, pairs_of(bench_sum(name)) | {key: nonsense})

        assert caught.value.name == key
        assert str(caught.value).startswith(f"{key} must be ")


@pytest.mark.parametrize(
    ("name", "key"), [pair for pair in numeric_keys() if not pair[1].endswith("_degc")]
)
def test_only_temperatures_may_be_negative(name: str, key: str) -> None:
    """No volume, flow, share or count is below nothing."""
    with pytest.raises(OutOfRange, match=key):
        work_out(name, pairs_of(bench_sum(name)) | {key: "-7"})


def test_frost_is_a_temperature() -> None:
    """Negative degrees are read as such."""
    pairs = pairs_of(bench_sum("viscosity")) | {"at_degc": "-20"}

    assert work_out("viscosity", pairs).values["nu_mm2_s"] == pytest.approx(2291.5, abs=0.1)


@pytest.mark.parametrize("name", HOMES)
def test_an_unknown_key_names_the_nearest(name: str) -> None:
    """A slip in a key leads to the key."""
    found = bench_sum(name)
    key = found.keys[0].name
    with pytest.raises(NotFound, match=rf"no key of {name} is called"):
        work_out(name, pairs_of(found) | {key + "q9": "1"})


@pytest.mark.parametrize("name", HOMES)
def test_a_missing_key_is_named_with_an_example(name: str) -> None:
    """Nothing given: the sentence says what is missing, and shows how it is done."""
    found = bench_sum(name)
    required = [key.name for key in found.keys if key.is_required]
    with pytest.raises(OutOfRange) as caught:
        work_out(name, {})

    assert all(key in str(caught.value) for key in required)


def test_an_unknown_sum_names_the_nearest() -> None:
    """A slip in the name leads to the sum."""
    with pytest.raises(NotFound, match=r"viscosity-index \(nearest\)"):
        bench_sum("viscosity-indx")


@pytest.mark.parametrize(
    ("name", "changes", "said"),
    [
        ("drain-fill", {"drained_l": "4,11"}, "drained_l must be from 0 to 10 l, got 11 l"),
        ("viscosity-index", {"nu100_mm2_s": "1.5"}, "at least 2 mm2/s, got 1.5 mm2/s"),
        ("density", {"at_degc": "500 degF"}, "at_degc must be from -50 to 150 degC, got 260 degC"),
        ("filter-time", {"target_per_ml": "10"}, "target_per_ml must be above 16.8919 1/ml"),
        ("warm-up", {"target_degc": "200"}, "got 200 degC"),
        ("settling", {"diameter_um": "2000"}, "diameter_um must be small enough"),
        ("beta", {"down": "0"}, "down must be above 0 and at most 1000, got 0; none seen"),
        ("membrane-count", {"squares": "1000"}, "no more area than the disc has"),
        ("blend", {"fractions": "0.5,0.6"}, "shares that add up to 1"),
        ("residence", {"c": "1,2"}, "2 values for 8 times"),
        ("gas-charge", {"precharge_bara": "0"}, "precharge_bara must be above 0 bar abs"),
    ],
)
def test_faults_of_a_formula_speak_of_keys_and_their_units(
    name: str, changes: dict[str, str], said: str
) -> None:
    """A person typed millilitres and degrees, so no cubic metre and no kelvin is shown."""
    with pytest.raises(OutOfRange) as caught:
        work_out(name, pairs_of(bench_sum(name)) | changes)

    assert said in str(caught.value)
    assert "m3" not in str(caught.value).replace("kg/m3", "")
    assert " K" not in str(caught.value)


def test_an_error_about_something_else_is_left_alone() -> None:
    """Only what belongs to a key is put into its unit."""
    error = OutOfRange("through_m3", "2 m3", "below 1 m3", "with shares 3 m3/m3 and 4 kg/m3")
    keys = (Key(name="total_l", meaning="total", si_name="through_m3"),)

    assert str(in_words_of_keys(error, keys)) == (
        "total_l must be below 1000 l, got 2000 l; with shares 3 m3/m3 and 4 kg/m3"
    )


@pytest.mark.parametrize(
    ("changes", "values"),
    [
        ({"model": "plug", "litres": "4"}, (100.0, 60.0)),
        ({"model": "laminar", "litres": "20"}, (6.25, 12.5)),
        ({"model": "tanks", "tanks": "1"}, (13.5335, 13.5335)),
        ({"model": "dead-space", "active_pct": "80"}, (8.2085, 26.5668)),
        ({"model": "dead-space", "active_pct": "80", "mixed_feed_pct": "90"}, (9.4859, 28.4319)),
        ({"litres": "2 us_gal"}, (46.9033, 46.9033)),
    ],
)
def test_purge_knows_five_models(changes: dict[str, str], values: tuple[float, float]) -> None:
    """Each by its name, each with its own numbers."""
    answer = work_out("purge", {"total_l": "10", "litres": "20"} | changes)

    assert (answer.values["outlet_pct"], answer.values["inside_pct"]) == pytest.approx(
        values, abs=1e-3
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"model": "tanks"}, "tanks must be given with model=tanks"),
        ({"model": "dead-space"}, "active_pct must be given with model=dead-space"),
        ({"tanks": "3"}, "tanks must be left out with model=mixed"),
        ({"model": "tanks", "tanks": "3", "active_pct": "50"}, "active_pct must be left out"),
        ({"model": "pluck"}, "did you mean plug?"),
    ],
)
def test_a_number_of_another_model_is_not_ignored(changes: dict[str, str], said: str) -> None:
    """Who gives tanks means the model of tanks."""
    with pytest.raises(OutOfRange) as caught:
        work_out("purge", {"total_l": "10", "litres": "20"} | changes)

    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("pairs", "code"),
    [
        ({"n4_per_ml": "150", "n6_per_ml": "25", "n14_per_ml": "1", "raw14": "15"}, "14/12/>=7"),
        ({"n5_per_ml": "2000", "n15_per_ml": "60"}, "-/18/13"),
        ({"n5_per_ml": "2000", "n15_per_ml": "60", "raw15": "12"}, "-/18/>=13"),
        ({"n4_per_ml": "-", "n6_per_ml": "2000", "n14_per_ml": "60"}, "-/18/13"),
        ({"n4_per_ml": "3e6", "n6_per_ml": "2000", "n14_per_ml": "60"}, ">28/18/13"),
    ],
)
def test_a_code_from_either_instrument(pairs: dict[str, str], code: str) -> None:
    """Counter and microscope, with and without raw counts."""
    assert work_out("iso4406", pairs).values["code"] == code


@pytest.mark.parametrize(
    ("pairs", "said"),
    [
        ({}, "n4_per_ml must be given with"),
        ({"n4_per_ml": "10", "n6_per_ml": "5"}, "n14_per_ml must be given"),
        ({"n4_per_ml": "10", "n5_per_ml": "5"}, "not of both"),
        ({"n5_per_ml": "10"}, "n15_per_ml must be given"),
        ({"n4_per_ml": "10", "n6_per_ml": "50", "n14_per_ml": "1"}, "n6_per_ml must be from 0"),
    ],
)
def test_a_code_needs_all_sizes_of_one_instrument(pairs: dict[str, str], said: str) -> None:
    """Missing, mixed and rising sizes are told apart."""
    with pytest.raises(OutOfRange) as caught:
        work_out("iso4406", pairs)

    assert said in str(caught.value)


def test_counts_per_class_come_one_by_one_or_in_a_list() -> None:
    """Both ways give one answer; both at once are refused."""
    single = dict(zip("abcdef", ("50000", "15000", "2500", "400", "60", "8"), strict=True))
    listed = {"counts": ",".join(single.values())}

    assert work_out("as4059", single) == work_out("as4059", listed)
    assert work_out("as4059", {"b": "30000"}).values["designation"] == "7B"
    for bad in (listed | {"a": "1"}, {"counts": "1,2"}, {}):
        with pytest.raises(OutOfRange):
            work_out("as4059", bad)


def test_ranges_of_the_older_standard_come_either_way_too() -> None:
    """Five in a list, or five by name; four by name are not enough."""
    names = ("n5_15", "n15_25", "n25_50", "n50_100", "n100")
    single = dict(zip(names, ("30000", "4000", "500", "90", "10"), strict=True))
    listed = {"counts": ",".join(single.values())}

    assert work_out("nas1638", single).values == work_out("nas1638", listed).values
    for bad in (dict(list(single.items())[:4]), listed | {"n100": "1"}, {"counts": "1,2,3"}):
        with pytest.raises(OutOfRange, match="counts"):
            work_out("nas1638", bad)


def test_a_viscosity_between_two_grades_has_none() -> None:
    """Null is an answer there, and the nearest grade stands beside it."""
    answer = work_out("viscosity-grade", {"nu40_mm2_s": "55"})

    assert answer.values["grade"] is None
    assert answer.values["nearest"] == 46
    assert "between two grades" in answer.sentence


def test_every_sum_agrees_with_itself_in_other_units() -> None:
    """Inches, gallons, pounds and Fahrenheit lead to the same answer as the key's own units."""
    metric = work_out(
        "pressure-loss",
        {
            "flow_l_min": "7.570823568",
            "bore_mm": "9.525",
            "length_m": "3.048",
            "nu_mm2_s": "46",
            "rho_kg_m3": "865",
        },
    )
    typed = work_out(
        "pressure-loss",
        {
            "flow_l_min": "2 us_gal/min",
            "bore_mm": "3/8 in",
            "length_m": "10 ft",
            "nu_mm2_s": "46 cSt",
            "rho_kg_m3": "0.865 g/cm3",
        },
    )

    assert metric.values["dp_bar"] == pytest.approx(typed.values["dp_bar"], rel=1e-9)


def test_a_contradiction_is_told_as_one() -> None:
    """Old fluid that vanished is not a number out of range."""
    with pytest.raises(UllageError, match="fell from 20 to 10 %"):
        work_out("dilution", {"known_l": "8", "before_pct": "20", "after_pct": "10", "u_pct": "1"})


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (12345.6, "12350"), (math.pi, "3.142"), (-2.0, "-2")]
)
def test_figures_have_four_digits(value: float, text: str) -> None:
    """More digits than anybody can measure are not shown."""
    assert figure(value) == text
