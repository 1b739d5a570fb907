"""The settings: what takes effect, what is refused, and where each value comes from."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest
from limbscribe.core.chart.checklist import WAYS, Checklist
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.config.settings import Settings, parse_settings
from limbscribe.core.config.settings_sheet import example_file, markdown_table
from limbscribe.core.config.settings_table import OF_CHECKLIST, SETTINGS, Setting
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.run import Run


def write(tmp_path: Path, text: str) -> None:
    (tmp_path / "config").mkdir(exist_ok=True)
    (tmp_path / "config" / "config.toml").write_text(text)


def parsed(text: str) -> Settings:
    return parse_settings(text, Path("config.toml"), shipped_muscles())


def test_ways_change_what_is_shipped_and_what_an_own_file_leaves_open(tmp_path: Path):
    write(tmp_path, 'tries = 3\ncounts = "worst"\nfirst_side = "right"\nquality_max = 5\n')
    (tmp_path / "config" / "checklists").mkdir()
    own = 'id = "own"\nname = "Own"\ntries = 2\n[[station]]\nmuscle = "soleus"\n'
    (tmp_path / "config" / "checklists" / "own.toml").write_text(own)
    catalogue = load_catalogue(tmp_path / "config")
    assert catalogue.problems == ()
    lists = {checklist.id: checklist for checklist in catalogue.checklists}
    shipped = lists["upper-limb"]
    assert (shipped.tries, shipped.counts, shipped.quality_max) == (3, "worst", 5)
    assert shipped.first_side.value == "right"
    assert (lists["own"].tries, lists["own"].counts) == (2, "worst")


def test_own_words_name_a_muscle_group(tmp_path: Path):
    write(tmp_path, '[words]\nhamstrings = "Knee flexors"\n')
    catalogue = load_catalogue(tmp_path / "config")
    assert catalogue.muscles["hamstrings"].name == "Knee flexors"
    assert catalogue.muscles["soleus"].name == shipped_muscles()["soleus"].name


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("tries = 6", "config.toml line 1", "tries = 6"),
        ("tries = true", "config.toml line 1", "tries = True"),
        ("\norder = 'size'", "config.toml line 2", "order = 'size'"),
        ("quality_max = 3", "config.toml line 1", "quality_max = 3"),
        ("[words]\nhamstring = 'H'", "config.toml line 2", "no muscle group 'hamstring'"),
        ("[words]\nhamstrings = 'Soleus'", "config.toml line 2", "another muscle group"),
        ("[words]\nhamstrings = ''", "config.toml line 2", "hamstrings = ''"),
        (f"[words]\nhamstrings = '{'x' * 33}'", "config.toml line 2", "hamstrings = "),
        ('[words]\nhamstrings = "a\\u202eb"', "config.toml line 2", "hamstrings = "),
        ("key_profile = 3", "config.toml line 1", "key_profile = 3"),
        ("ways = 3", "config.toml line 1", "unknown key 'ways'"),
    ],
)
def test_what_cannot_be_used_keeps_its_default_and_names_its_line(text: str, where: str, what: str):
    settings = parsed(text)
    assert [problem.where for problem in settings.problems] == [where]
    assert what in settings.problems[0].what
    assert (settings.ways, settings.words) == ({}, {})


def test_two_groups_cannot_be_given_one_name():
    settings = parsed("[words]\nhamstrings = 'Same'\nsoleus = 'Same'\n")
    assert [problem.where for problem in settings.problems] == ["config.toml line 3"]
    assert settings.words == {"hamstrings": "Same"}


# The example --------------------------------------------------------------------------------


def uncommented() -> str:
    """The example with every commented-out setting put in."""
    return re.sub(r"^#(?! )", "", example_file(), flags=re.M)


def test_the_example_as_it_is_changes_nothing():
    settings = parsed(example_file())
    assert settings.problems == ()
    assert settings.limits == Settings().limits
    assert (settings.ways, settings.scales, settings.keys) == ({}, {}, {})


def test_the_table_has_defaults_and_no_examples_for_them():
    rows = [line.split(" | ") for line in markdown_table().splitlines()[2:]]
    defaults = {row[0].strip("| `[]"): row[2] for row in rows}
    assert {key for key, words in defaults.items() if words == OF_CHECKLIST} == set(WAYS)
    assert {key for key, words in defaults.items() if words == "none"} == {
        *("cycle_rule", "keys", "scales", "words", "normal_maximum")
    }
    assert defaults["change"] == f"`{Settings().limits.change}`"


def test_the_example_shows_every_setting_with_its_default():
    settings = parsed(uncommented())
    assert settings.problems == ()
    said = {place.partition(".")[0] for place in settings.places}
    assert said == set(SETTINGS)
    defaults = Settings()
    plain = set(SETTINGS) - set(WAYS) - {"scales", "words", "keys", "cycle_rule", "normal_maximum"}
    for key in plain:
        assert getattr(settings, key) == getattr(defaults, key), key
    usual = Checklist("", "", ())
    assert settings.ways == {key: getattr(usual, key) for key in WAYS}


# The table ----------------------------------------------------------------------------------


def test_settings_has_a_field_for_every_row_of_the_table_and_no_other():
    names = {field.name for field in fields(Settings)} - {"path", "problems", "places", "ways"}
    assert names == set(SETTINGS) - set(WAYS)
    defaults = Settings()
    for name in names:
        assert getattr(defaults, name) == SETTINGS[name].default, name


def test_the_defaults_have_the_types_that_settings_promises():
    types = {"int": int, "float": int, "bool": bool, "str": str, "Level": int}
    for field in fields(Settings):
        if field.type in types:
            assert type(SETTINGS[field.name].default) is types[str(field.type)], field.name


def test_every_figure_has_a_unit_or_choices_and_a_source():
    for setting in SETTINGS.values():
        value = setting.default if setting.example is None else setting.example
        if type(value) in (int, float):
            assert setting.source, setting.key
            assert setting.unit or setting.choices, setting.key


NUMBERS = [setting for setting in SETTINGS.values() if type(setting.default) in (int, float)]


@pytest.mark.parametrize("setting", NUMBERS, ids=lambda setting: setting.key)
def test_the_ends_of_a_range_are_allowed_and_what_is_beyond_is_refused(setting: Setting):
    ends = setting.choices or (setting.low, setting.high)
    for value in ends:
        settings = parsed(f"{setting.key} = {value}")
        assert settings.problems == ()
        assert getattr(settings, setting.key) == value
    for value in (int(ends[0]) - 1, int(ends[-1]) + 1, f"'{ends[0]}'", "true"):
        [problem] = parsed(f"{setting.key} = {value}").problems
        assert problem.where == "config.toml line 1"
        assert problem.mend == f"{setting.may_be}; {setting.default} is used"


@pytest.mark.parametrize(
    ("line", "fix"),
    [
        ("reading_error = 0", "a whole number of degrees from 1 to 30; 5 is used"),
        ("reference_sd = 9", "standard deviations, a number from 1 to 5; 2 is used"),
        ("reading_step = 3", "deg, one of 1, 2, 5, 10; 1 is used"),
        ("idle_minutes = -1", "whole minutes from 0 (never) to 240; 10 is used"),
        ("mdc_level = 99", "one of 90, 95; 95 is used"),
        ("read_back = 1", "true or false; false is used"),
        ("key_profile = 3", "one of standard, number-pad, left-handed; standard is used"),
        ("order = 3", "one of muscle, side, position; each checklist's own is used"),
    ],
)
def test_a_refused_setting_says_what_it_may_be_and_what_is_used(line: str, fix: str):
    assert [problem.mend for problem in parsed(line).problems] == [fix]


# The command --------------------------------------------------------------------------------


def rows(run: Run, *argv: str) -> dict[str, dict[str, object]]:
    ran = run(*argv, "config", "--json")
    return {row["key"]: row for row in json.loads(ran.out)["settings"]}


def test_every_setting_tells_where_it_comes_from(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    write(tmp_path, 'change = 30\n[scales]\nhamstrings = "deficit"\n')
    monkeypatch.setenv("LANG", "C.UTF-8")
    monkeypatch.delenv("LC_ALL", raising=False)
    found = rows(run)
    assert found["change"] == {
        "key": "change",
        "value": 30,
        "source": "file",
        "where": "config.toml line 1",
    }
    assert found["scales.hamstrings"]["where"] == "config.toml line 3"
    assert found["reading_error"]["source"] == "default"
    assert (found["reference_sd"]["value"], found["read_back"]["value"]) == (2, False)
    assert (found["shelf"]["source"], found["shelf"]["where"]) == (
        "environment",
        "LIMBSCRIBE_SHELF",
    )
    assert found["config file"]["where"] == "LIMBSCRIBE_CONFIG"
    assert found["ascii"]["source"] == "default"
    flagged = rows(run, "--shelf", "elsewhere", "--ascii")
    assert (flagged["shelf"]["source"], flagged["shelf"]["value"]) == ("flag", "elsewhere")
    assert (flagged["ascii"]["source"], flagged["ascii"]["value"]) == ("flag", True)
    monkeypatch.setenv("LC_ALL", "C")
    assert (rows(run)["ascii"]["where"], rows(run)["ascii"]["value"]) == ("LC_ALL", True)


def test_every_known_key_is_listed(run: Run):
    ran = run("config")
    assert (ran.code, ran.err) == (0, "")
    for key in SETTINGS:
        assert re.search(rf"^{key}(\.| )", ran.out, re.M), key


def test_refused_settings_are_shown_as_they_are_used_and_told(run: Run, tmp_path: Path):
    write(tmp_path, 'reading_error = 0\ncolour = 1\nreference_sd = 9\n[keys]\n"entry.u" = "y"\n')
    ran = run("config")
    assert ran.code == 1
    assert re.search(r"^reference_sd +2 SD +default$", ran.out, re.M)
    assert "line 3: reference_sd = 9 (standard deviations, a number from 1 to 5; 2 is" in ran.err
    assert re.search(r"^reading_error +5 deg +default$", ran.out, re.M)
    assert "keys.entry.u" not in ran.out
    for told in ("line 1: reading_error = 0", "line 2: unknown key 'colour'", "line 5: entry.u"):
        assert f"limbscribe: config.toml {told}" in ran.err


def test_own_checklists_are_named_with_their_file(run: Run, tmp_path: Path):
    (tmp_path / "config" / "checklists").mkdir(parents=True)
    own = 'id = "mine"\nname = "Mine"\n[[station]]\nmuscle = "soleus"\n'
    (tmp_path / "config" / "checklists" / "a.toml").write_text(own)
    assert rows(run)["checklist mine"]["where"] == "checklists/a.toml"
    assert rows(run)["checklist upper-limb"]["source"] == "default"


def test_path_and_example(run: Run, tmp_path: Path):
    assert run("config", "--path").out == f"{tmp_path / 'config' / 'config.toml'}\n"
    assert run("config", "--example").out == example_file()
    assert run("config", "--path", "--example").code == 2


def test_bindings_are_listed_with_the_keys_in_use(run: Run, tmp_path: Path):
    write(tmp_path, 'key_profile = "number-pad"\n')
    bindings = {b["id"]: b["keys"] for b in json.loads(run("config", "--json").out)["bindings"]}
    assert bindings["entry.u"] == ["*", "u"]
