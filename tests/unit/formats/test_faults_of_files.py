"""Every fault is named with its place, the value found, what is allowed and what to do.

One row: a file that is right, one place changed, and what must be said about it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.unit.formats.texts import CIRCUIT, EVIDENCE, RECIPE, faults_of, spoilt
from ullage.errors import FileFaults
from ullage.evidence.observation import Evidence
from ullage.formats.circuit_file import read_circuit
from ullage.formats.evidence_file import parse_evidence


@dataclass(frozen=True, kw_only=True)
class Row:
    """A change to a file, and what its one fault must say."""

    old: str
    new: str
    key: str
    says: tuple[str, ...]
    kind: str = "circuit"


ROWS = {
    # --- what the description of the files lists
    "unknown key": Row(
        old="full_l", new="ful_l", key="reservoir.ful_l", says=('did you mean "full_l"?',)
    ),
    "unknown key without a like": Row(
        old="dead_pct =", new="xyzzy = 1\ndead_pct =", key="reservoir.xyzzy",
        says=("= 1", "known here: area_cm2, brim_l", "leave it out"),
    ),
    "unknown part on a path": Row(
        old='"main"\nthrough = ["strainer", "suction"',
        new='"main"\nthrough = ["strainer", "sucton"',
        key="path[main].through",
        says=("'sucton'", "neither a line nor a node", 'did you mean "suction"?'),
    ),
    "part twice on a path": Row(
        old='"return", "filter"]', new='"return", "filter", "block"]',
        key="path[main].through",
        says=("'block'", "2 times", "each part once", "give the second piece a name"),
    ),
    "shares that do not add up": Row(
        old="share_pct = 30", new="share_pct = 20", key="path[*].share_pct",
        says=("[70.0, 20.0]", "90", "add up to 100", "path[main].share_pct or path[cooling]"),
    ),
    "minimum above full": Row(
        old="minimum_l = 2.0", new="minimum_l = 6.5", key="reservoir.minimum_l",
        says=("6.5", "above full_l = 6.0", "at most full_l", "which of the two is wrong"),
    ),
    "full above brim": Row(
        old="{ best = 7.0, low = 6.8, high = 7.2 }", new="5.9", key="reservoir.full_l",
        says=("6.0", "above brim_l = 5.9", "at most brim_l"),
    ),
    "leg at a node on no path": Row(
        old='"block", "gallery", "return"', new='"gallery", "return"', key="leg[strut].at",
        says=("'block'", "is on no path", "exactly one path", "add it to the `through`"),
    ),
    "leg at a node on two paths": Row(
        old='["strainer", "suction", "to-cooler"',
        new='["strainer", "suction", "gallery", "to-cooler"',
        key="leg[strut].returns_to",
        says=("'gallery'", "stands on 2 paths (main and cooling)", "split the node"),
    ),
    "returns_to upstream of at": Row(
        old='at = "block"\nreturns_to = "gallery"', new='at = "gallery"\nreturns_to = "block"',
        key="leg[strut].returns_to",
        says=("'block'", "upstream of at", "swap the two"),
    ),
    "negative volume": Row(
        old='"block"\nvolume_l = { best = 0.25, low = 0.20, high = 0.33 }',
        new='"block"\nvolume_l = -0.25', key="node[block].volume_l",
        says=("-0.25", "must be above 0 l", "check the sign"),
    ),
    "low above best": Row(
        old="low = 0.20", new="low = 0.26", key="node[block].volume_l.low",
        says=("0.26", "above best = 0.25", "low <= best <= high"),
    ),
    "high below best": Row(
        old="high = 0.33", new="high = 0.22", key="node[block].volume_l.high",
        says=("0.22", "below best = 0.25"),
    ),
    "two parts with one name": Row(
        old='id = "gallery"', new='id = "supply"', key="node[supply].id",
        says=("'supply'", "already the name of a line", "rename one"),
    ),
    "a newer format": Row(
        old="ullage-circuit/1", new="ullage-circuit/2", key="format",
        says=("'ullage-circuit/2'", "newer than this program", "update the program"),
    ),
    "leg behind another path": Row(
        old='at = "block"\nreturns_to = "gallery"', new='at = "block"\nreturns_to = "cooler"',
        key="leg[strut].returns_to",
        says=("'cooler'", 'stands on path "cooling"', "a node of the same path"),
    ),
    # --- the first line and the text itself
    "no format": Row(
        old='format = "ullage-circuit/1"\n', new="", key="format",
        says=("missing", 'write format = "ullage-circuit/1" as the first line'),
    ),
    "another kind of file": Row(
        old="ullage-circuit/1", new="ullage-recipe/1", key="format",
        says=("a recipe file, where a circuit file is needed", "check the order"),
    ),
    "format of nobody": Row(
        old="ullage-circuit/1", new="circuit", key="format",
        says=("'circuit'", "not a format of ours", 'write format = "ullage-circuit/1"'),
    ),
    "version nought": Row(
        old="ullage-circuit/1", new="ullage-circuit/0", key="format", says=("never was",)
    ),
    "decimal comma": Row(
        old="minimum_l = 2.0", new="minimum_l = 2,0", key="line 7, column 14",
        says=("minimum_l = 2,0", "is not TOML", "a point: 0.25, not 0,25"),
    ),
    "text without quotes": Row(
        old='mark = "released"', new="mark = released", key="line 13, column 8",
        says=("is not TOML", "put text in quotes"),
    ),
    "the same key twice": Row(
        old="heel_l = 0.4", new="heel_l = 0.4\nheel_l = 0.5", key="line 10, column 13",
        says=("is not TOML", "cannot overwrite a value"),
    ),
    # --- shapes
    "unknown table": Row(
        old='[[leg]]\nid = "strut"', new='[[other]]\nid = "strut"', key="other",
        says=("not a known key",),
    ),
    "table misspelt": Row(
        old="[fluid]", new="[limit]", key="limit", says=('did you mean "limits"?',)
    ),
    "number in quotes": Row(
        old="heel_l = 0.4", new='heel_l = "0.4 l"', key="reservoir.heel_l",
        says=("'0.4 l'", "is not a number", "write it without quotes: heel_l = 0.4"),
    ),
    "true for a number": Row(
        old="heel_l = 0.4", new="heel_l = true", key="reservoir.heel_l",
        says=("True", "is not a number", "at least 0 l"),
    ),
    "not a number": Row(
        old="heel_l = 0.4", new="heel_l = nan", key="reservoir.heel_l", says=("is not a number",)
    ),
    "spread where none may be": Row(
        old="idle_rev_min = 800", new="idle_rev_min = { best = 800, spread_pct = 5 }",
        key="pump.idle_rev_min",
        says=("one number without a spread", "write it as idle_rev_min = 750"),
    ),
    "half a fitting": Row(
        old="fittings = 2", new="fittings = 2.5", key="line[supply].fittings",
        says=("2.5", "not a whole number"),
    ),
    "word not among the choices": Row(
        old='kind = "pressure-held"', new='kind = "pressure held"', key="pump.kind",
        says=("'pressure held'", '"fixed" or "pressure-held" or "hand"', 'mean "pressure-held"?'),
    ),
    "class in small letters": Row(
        old='class = "HV"\nparticles', new='class = "hv"\nparticles', key="fluid.class",
        says=("'hv'", 'did you mean "HV"?'),
    ),
    "flag in quotes": Row(
        old="bleed = true", new='bleed = "yes"', key="leg[strut].bleed",
        says=("'yes'", "is not true or false", "bleed = true"),
    ),
    "name missing": Row(
        old='id = "suction"\n', new="", key="line[1].id",
        says=("missing", 'add id = "supply"'),
    ),
    "empty name": Row(
        old='name = "Everything at once"', new='name = ""', key="name",
        says=("says something",),
    ),
    "through is a text": Row(
        old='through = ["strainer", "suction", "to-cooler", "cooler"]', new='through = "cooler"',
        key="path[cooling].through", says=("'cooler'", "a list of names in quotes"),
    ),
    "code of particles": Row(
        old='"18/16/13"', new='"18-16-13"', key="limits.target_code",
        says=("'18-16-13'", 'target_code = "18/16/13"'),
    ),
    "two particle counts": Row(
        old="[9000, 2400, 180]", new="[9000, 2400]", key="fluid.particles_per_ml",
        says=("[9000, 2400]", "a list of 3 numbers"),
    ),
    "particle counts that rise": Row(
        old="[9000, 2400, 180]", new="[9000, 180, 2400]", key="fluid.particles_per_ml",
        says=("[9000.0, 180.0, 2400.0]", "does not fall", "check the order"),
    ),
    "a table that sinks": Row(
        old="[200, 7.5]", new="[50, 7.5]", key="reservoir.table_mm_l",
        says=("does not rise", "sort the pairs"),
    ),
    # --- uncertain numbers
    "no best": Row(
        old="{ best = 12, spread_pct = 3 }", new="{ spread_pct = 3 }",
        key="pump.displacement_ml_rev.best", says=("missing", "likeliest value"),
    ),
    "spread beside low": Row(
        old="{ best = 12, spread_pct = 3 }", new="{ best = 12, spread_pct = 3, low = 11 }",
        key="pump.displacement_ml_rev.spread_pct", says=("= 3", "beside low or high", "leave one"),
    ),
    "low without high": Row(
        old="{ best = 12, spread_pct = 3 }", new="{ best = 12, low = 11 }",
        key="pump.displacement_ml_rev.high", says=("missing beside low", "write both ends"),
    ),
    "spread of everything": Row(
        old="{ best = 12, spread_pct = 3 }", new="{ best = 12, spread_pct = 100 }",
        key="pump.displacement_ml_rev.spread_pct", says=("100", "below 100 %", "low and high"),
    ),
    "negative spread": Row(
        old="{ best = 12, spread_pct = 3 }", new="{ best = 12, spread_pct = -3 }",
        key="pump.displacement_ml_rev.spread_pct", says=("-3", "from 0 to 100 %"),
    ),
    "unknown key of a number": Row(
        old="{ best = 12, spread_pct = 3 }", new="{ best = 12, spred_pct = 3 }",
        key="pump.displacement_ml_rev.spred_pct", says=('did you mean "spread_pct"?',),
    ),
    "a guess without a name": Row(
        old='as = "leg length" }\nfittings', new='as = 3 }\nfittings',
        key="line[supply].length_m.as", says=("= 3", "is not a name", 'as = "leg length"'),
    ),
    "high end above 100 %": Row(
        old="{ best = 70, low = 60, high = 80 }", new="{ best = 70, low = 60, high = 180 }",
        key="path[main].share_pct.high", says=("180", "at most 100 %"),
    ),
    # --- single values
    "more than 100 %": Row(
        old="start_pct = 40", new="start_pct = 140", key="leg[strut].start_pct",
        says=("140", "from 0 to 100 %"),
    ),
    "density in g/ml": Row(
        old="rho15_kg_m3 = 868", new="rho15_kg_m3 = 0.868", key="fluid.rho15_kg_m3",
        says=("0.868", "from 600 to 2000", "its unit"),
    ),
    "viscosities swapped": Row(
        old="nu40_mm2_s = 22.0\nnu100_mm2_s = 5.0", new="nu40_mm2_s = 5.0\nnu100_mm2_s = 22.0",
        key="fluid.nu40_mm2_s", says=("5.0", "nu100_mm2_s = 22", "whether the two are swapped"),
    ),
    "temperature in kelvin": Row(
        old="mark_degc = 25", new="mark_degc = 298", key="reservoir.mark_degc",
        says=("298", "from -60 to 200"),
    ),
    # --- what does not fit together
    "heel above minimum": Row(
        old="heel_l = 0.4", new="heel_l = 2.4", key="reservoir.heel_l",
        says=("2.4", "above minimum_l = 2.0"),
    ),
    "start above brim": Row(
        old="start_l = 5.8", new="start_l = 7.8", key="reservoir.start_l",
        says=("7.8", "above brim_l = 7.0"),
    ),
    "nothing mixes": Row(
        old="bypass_pct = 2", new="bypass_pct = 97", key="reservoir.dead_pct",
        says=("4.0", "bypass_pct = 97", "together below 100"),
    ),
    "no displacement": Row(
        old="displacement_ml_rev = { best = 12, spread_pct = 3 }\n", new="",
        key="pump.displacement_ml_rev", says=("missing", '"pressure-held"', "in one turn"),
    ),
    "no idle speed": Row(
        old="idle_rev_min = 800\n", new="", key="pump.idle_rev_min",
        says=("missing", "above 0", "idle speed of the engine"),
    ),
    "duty without rest": Row(
        old="rest_s = 120\n", new="", key="pump.duty_s", says=("60", "without rest_s")
    ),
    "a hand pump's flow at a driven pump": Row(
        old="duty_s = 60", new="flow_l_min = 3\nduty_s = 60", key="pump.flow_l_min",
        says=("3.0", "belongs to hand pumps", 'kind = "hand"'),
    ),
    "name with capitals": Row(
        old='id = "spare"\n', new='id = "Spare way"\n', key="path[Spare way].id",
        says=("'Spare way'", "lower-case letters, digits", 'for example "spare-way"'),
    ),
    "reservoir taken": Row(
        old='id = "clutch"', new='id = "reservoir"', key="leg[reservoir].id",
        says=("taken by the reservoir itself", "choose another name"),
    ),
    "group named like a leg": Row(
        old='group = "front"', new='group = "clutch"', key="leg[strut].group",
        says=("'clutch'", "name of another leg", "another name"),
    ),
    "line without a volume": Row(
        old="bore_mm = 20\nlength_m = 0.8", new="bore_mm = 20", key="line[suction]",
        says=("length_m missing", "or volume_l", "guess with a wide spread"),
    ),
    "outside diameter without a wall": Row(
        old="{ od_mm = 8, wall_mm = 1,", new="{ od_mm = 8,", key="leg[arm-rod].line.wall_mm",
        says=("missing beside od_mm", "1 for steel, 3 for hose"),
    ),
    "no room within the wall": Row(
        old="{ od_mm = 8, wall_mm = 1,", new="{ od_mm = 8, wall_mm = 4,",
        key="leg[arm-rod].line.wall_mm", says=("4", "no bore within od_mm = 8"),
    ),
    "two sizes for one line": Row(
        old="{ od_mm = 8,", new="{ bore_mm = 6, od_mm = 8,", key="leg[arm-rod].line.bore_mm",
        says=("6.0", "beside od_mm", "keep the one"),
    ),
    "element in a node that has none": Row(
        old='"gallery"\nvolume_l = 0.2', new='"gallery"\nvolume_l = 0.2\nelement_l = 0.1',
        key="node[gallery].element_l", says=("0.1", "the node has none", "element = true"),
    ),
    "element larger than its housing": Row(
        old="element_l = 0.08", new="element_l = 0.8", key="node[filter].element_l",
        says=("0.8", "more than the housing holds", "at most volume_l = 0.5"),
    ),
    "diverter off the path": Row(
        old='divert_after = "return"', new='divert_after = "cooler"', key="path[main].divert_after",
        says=("'cooler'", "is not on this path", "there are: strainer, suction"),
    ),
    "diverter in a dead end": Row(
        old="dead_end = true", new='dead_end = true\ndivert_after = "spare-port"',
        key="path[spare].divert_after", says=("'spare-port'", "no way back"),
    ),
    "leg on a path": Row(
        old='through = ["spare-port"]', new='through = ["spare-port", "strut"]',
        key="path[spare].through", says=("'strut'", "is a leg", "the node that feeds it"),
    ),
    "reservoir on a path": Row(
        old='through = ["spare-port"]', new='through = ["reservoir", "spare-port"]',
        key="path[spare].through", says=("'reservoir'", "begins and ends at the reservoir"),
    ),
    "paths in different orders": Row(
        old='["strainer", "suction", "to-cooler", "cooler"]',
        new='["suction", "strainer", "to-cooler", "cooler"]', key="path[cooling].through",
        says=("['strainer', 'suction']", "main and cooling", "different orders", "split the part"),
    ),
    "part that no path uses": Row(
        old='"to-cooler", "cooler"]', new='"cooler"]', key="line[to-cooler]",
        says=("stands on no path", "leave it out"),
    ),
    "leg at a line": Row(
        old='at = "block"\nline = { volume_l = 0.05 }',
        new='at = "supply"\nline = { volume_l = 0.05 }',
        key="leg[accumulator].at", says=("'supply'", "is a line, and a leg hangs at a node"),
    ),
    "leg at nothing": Row(
        old='at = "block"\nline = { volume_l = 0.05 }',
        new='at = "blok"\nline = { volume_l = 0.05 }',
        key="leg[accumulator].at", says=("'blok'", "is not a node", 'did you mean "block"?'),
    ),
    "precharge above working": Row(
        old="precharge_bar = 50, working_bar = 100", new="precharge_bar = 150, working_bar = 100",
        key="leg[accumulator].gas.precharge_bar",
        says=("150", "at most 100", "which of the two is wrong"),
    ),
    "opposes nobody": Row(
        old='opposes = "arm-rod"', new='opposes = "arm-rd"', key="leg[arm-base].opposes",
        says=("'arm-rd'", "is no leg", 'did you mean "arm-rod"?'),
    ),
    "opposes a group": Row(
        old='opposes = "arm-rod"', new='opposes = "front"', key="leg[arm-base].opposes",
        says=("'front'", "is a group", "one leg"),
    ),
    "sides that do not add up": Row(
        old="start_pct = 70", new="start_pct = 60", key="leg[arm-base].start_pct",
        says=("30.0", "60.0", "add up to 90", "start_pct = 70.0 at"),
    ),
    "coldest above hottest": Row(
        old="coldest_start_degc = -15", new="coldest_start_degc = 85",
        key="limits.coldest_start_degc", says=("85", "not below hottest_degc = 80"),
    ),
    "thinnest above thickest": Row(
        old="nu_run_min_mm2_s = 10", new="nu_run_min_mm2_s = 2000",
        key="limits.nu_run_min_mm2_s", says=("2000", "not below nu_start_max_mm2_s = 1000"),
    ),
    # --- recipes
    "unknown step": Row(
        kind="recipe", old='do = "exchange"', new='do = "exchnge"', key="step[3].do",
        says=("'exchnge'", "not a kind of step", 'did you mean "exchange"?'),
    ),
    "key of another step": Row(
        kind="recipe", old="leave_l = 0.5", new="litres = 0.5", key="step[1].litres",
        says=("not a known key", "known here: do, leave_l, temperature_degc"),
    ),
    "litres missing": Row(
        kind="recipe", old="litres = 4\n", new="", key="step[3].litres",
        says=("missing", "at least 0 l", "add litres = 4"),
    ),
    "negative litres": Row(
        kind="recipe", old="litres = 4\n", new="litres = -4\n", key="step[3].litres",
        says=("-4", "at least 0 l", "check the sign"),
    ),
    "half a cycle": Row(
        kind="recipe", old="cycles = 1", new="cycles = 1.5", key="step[3].cycles",
        says=("1.5", "not a whole number"),
    ),
    "no period": Row(
        kind="recipe", old="period_s = 8", new="period_s = 0", key="step[3].period_s",
        says=("= 0", "above 0 s"),
    ),
    "groups as one text": Row(
        kind="recipe", old='exercise = ["arm"]', new='exercise = "arm"', key="step[4].exercise",
        says=("'arm'", "list of names in quotes"),
    ),
    "do missing": Row(
        kind="recipe", old='do = "stand"\n', new="", key="step[11].do",
        says=("missing", "there are: draw-off"),
    ),
    # --- evidence
    "sample from nowhere": Row(
        kind="evidence", old='"leg:strut"', new='"strut"', key="sample[2].where",
        says=("'strut'", "written as it should be", '"leg:"'),
    ),
    "more than all old": Row(
        kind="evidence", old="old_pct = 40", new="old_pct = 140", key="sample[2].old_pct",
        says=("140", "from 0 to 100 %"),
    ),
    "litres and grams": Row(
        kind="evidence", old="grams = 434", new="grams = 434\nlitres = 0.5", key="volume[2].litres",
        says=("beside grams", "either litres or grams", "keep the one"),
    ),
    "neither litres nor grams": Row(
        kind="evidence", old="grams = 434\n", new="", key="volume[2].litres",
        says=("missing", "add litres or grams"),
    ),
    "level from below nothing": Row(
        kind="evidence", old="litres = 5.9", new="litres = -0.1", key="level[2].litres",
        says=("-0.1", "at least 0 l"),
    ),
    "unknown volume": Row(
        kind="evidence", old='"drawn-off"', new='"drawn off"', key="volume[1].what",
        says=("'drawn off'", 'did you mean "drawn-off"?'),
    ),
    "no time": Row(
        kind="evidence", old="seconds = 9.1", new="seconds = 0", key="flow[1].seconds",
        says=("above 0 s",),
    ),
}  # fmt: skip

# Changes that are wrong in two places at once, and rightly named in both.
ALSO = {
    "unknown key": {"reservoir.full_l"},
    "leg at a node on no path": {
        *(f"leg[{name}].at" for name in ("arm-base", "arm-rod", "clutch", "accumulator")),
    },
    "leg at a node on two paths": {"leg[arm-base].returns_to", "leg[arm-rod].returns_to"},
    "two parts with one name": {
        "path[main].through",
        *(f"leg[{name}].returns_to" for name in ("strut", "arm-base", "arm-rod")),
    },
    "table misspelt": {"fluid"},
}


@pytest.mark.parametrize("name", ROWS)
def test_a_fault_is_named(name: str) -> None:
    """Place, value, range and advice stand in the sentence, and nothing else is blamed."""
    row = ROWS[name]
    faults = faults_of(row.kind, spoilt(row.kind, row.old, row.new))
    sentences = [fault.sentence() for fault in faults if fault.key == row.key]

    assert {fault.key for fault in faults} == {row.key} | ALSO.get(name, set())
    assert len(sentences) == 1
    assert [word for word in row.says if word not in sentences[0]] == []
    assert sentences[0].startswith(row.key)


def test_all_faults_come_at_once() -> None:
    """Values, names and what does not fit together, in one answer."""
    text = CIRCUIT
    for old, new in (
        ("heel_l = 0.4", 'heel_l = "a little"'),
        ("dead_pct =", "ded_pct = 1\ndead_pct ="),
        ('divert_after = "return"', 'divert_after = "retrun"'),
        ("share_pct = 30", "share_pct = 20"),
        ("stroke_l = 0.35", "stroke_l = -0.35"),
    ):
        text = text.replace(old, new, 1)

    assert [fault.key for fault in faults_of("circuit", text)] == [
        "reservoir.ded_pct",
        "reservoir.heel_l",
        "leg[arm-rod].stroke_l",
        "path[main].divert_after",
        "path[*].share_pct",
    ]


def test_a_stand_in_blames_nobody() -> None:
    """Where a value could not be read, nothing is concluded from what took its place."""
    faults = faults_of("circuit", spoilt("circuit", "start_l = 5.8", "start_l = nan"))

    assert [fault.key for fault in faults] == ["reservoir.start_l"]


def test_a_missing_fluid_says_what_to_write() -> None:
    """The advice can be copied into the file."""
    text = CIRCUIT[: CIRCUIT.index("[fluid]")] + CIRCUIT[CIRCUIT.index("[new_fluid]") :]
    (fault,) = faults_of("circuit", text)

    assert fault.key == "fluid"
    assert "add [fluid] with nu40_mm2_s = 22.0, nu100_mm2_s = 5.0, rho15_kg_m3 = 868" in (
        fault.sentence()
    )


def test_a_single_leg_in_single_brackets_is_told() -> None:
    """[leg] instead of [[leg]] is a slip of the finger, and is named as one."""
    first = CIRCUIT.index("[[leg]]")
    second = CIRCUIT.index("[[leg]]", first + 1)
    text = CIRCUIT[:first] + CIRCUIT[first:second].replace("[[leg]]", "[leg]")
    text += CIRCUIT[CIRCUIT.index("[fluid]") :]
    (fault,) = faults_of("circuit", text)

    assert (fault.key, "two brackets" in fault.sentence()) == ("leg", True)


def test_an_empty_recipe_is_refused() -> None:
    """A recipe without steps would leave everything as it is."""
    (fault,) = faults_of("recipe", RECIPE[: RECIPE.index("[[step]]")])

    assert (fault.key, "nothing would be done" in fault.sentence()) == ("step", True)


def test_an_empty_evidence_file_is_no_fault() -> None:
    """Nothing measured yet is where every job begins."""
    assert parse_evidence(EVIDENCE[: EVIDENCE.index("[[sample]]")], "e") == Evidence()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfe\x00", "is not UTF-8 text"),
        (b"x = 1\n" * 400_000, "too large"),
        (b"[" * 3000, "is not TOML"),
        (b"a = " + b"[" * 3000 + b"]" * 3000, "nested too deeply"),
        (b"a = " + b"9" * 5000, "cannot be read"),
        (b"{", "is not JSON"),
        (b"", "is missing"),
    ],
)
def test_a_file_that_is_none_of_ours(tmp_path: Path, content: bytes, words: str) -> None:
    """Whatever is handed over, a sentence comes back."""
    path = tmp_path / "odd.circuit.toml"
    path.write_bytes(content)
    with pytest.raises(FileFaults, match=words):
        read_circuit(path)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    """The nearest file of the folder is proposed."""
    (tmp_path / "van.circuit.toml").write_text("", "utf-8")
    with pytest.raises(FileFaults, match=r'did you mean "van\.circuit\.toml"'):
        read_circuit(tmp_path / "vna.circuit.toml")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """A folder is refused with the reason that the system gives."""
    with pytest.raises(FileFaults, match="is a directory"):
        read_circuit(tmp_path)
