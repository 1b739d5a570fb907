"""Settings and the catalogue: a mistake in a file is reported with its line and stops nobody."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.config.settings import Settings, config_file, load_settings, parse_settings
from limbscribe.core.tardieu.checks_context import Limits
from limbscribe.core.tardieu.muscles import shipped_muscles

GOOD = """\
reading_error = 7
change = 30
reference_sd = 2.5
reading_step = 5
read_back = true
ascii = true
[scales]
hamstrings = "straight-180"
[keys]
"entry.undo" = ["u", "ctrl+z"]
help = "f1"
"""


def parsed(text: str) -> Settings:
    return parse_settings(text, Path("config.toml"), shipped_muscles())


def test_every_setting_is_read() -> None:
    settings = parsed(GOOD)
    assert settings.limits == Limits(7, 30, 2.5, 5)
    assert settings.read_back
    assert settings.ascii
    assert settings.scales == {"hamstrings": "straight-180"}
    assert settings.keys == {"entry.undo": ("u", "ctrl+z"), "help": ("f1",)}
    assert settings.problems == ()


def test_without_a_file_the_defaults_hold(tmp_path: Path) -> None:
    settings = load_settings(tmp_path / "config.toml", shipped_muscles())
    assert settings == Settings()
    assert settings.limits == Limits()


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("change = 20\nerror = 3", "config.toml line 2", "unknown key 'error'"),
        ("reading_error = 0", "config.toml line 1", "reading_error = 0"),
        ("change = true", "config.toml line 1", "change = True"),
        ("change = 200", "config.toml line 1", "change = 200"),
        ("reference_sd = 0.5", "config.toml line 1", "reference_sd = 0.5"),
        ("reference_sd = 6", "config.toml line 1", "reference_sd = 6"),
        ("reference_sd = nan", "config.toml line 1", "reference_sd = nan"),
        ("reference_sd = true", "config.toml line 1", "reference_sd = True"),
        ("reference_sd = '2'", "config.toml line 1", "reference_sd = '2'"),
        ("reading_step = 3", "config.toml line 1", "reading_step = 3"),
        ("reading_step = true", "config.toml line 1", "reading_step = True"),
        ("reading_step = 0", "config.toml line 1", "reading_step = 0"),
        ("read_back = 1", "config.toml line 1", "read_back = 1"),
        ("ascii = 1", "config.toml line 1", "ascii = 1"),
        ("[scales]\nhamstring = 'deficit'", "config.toml line 2", "no muscle group"),
        ("[scales]\nhamstrings = 'plantigrade-90'", "config.toml line 2", "has no scale"),
        ("[scales]\nhamstrings = 5", "config.toml line 2", "hamstrings = 5"),
        ("[keys]\nundo = [1]", "config.toml line 2", "undo = [1]"),
        ("[keys]\nundo = []", "config.toml line 2", "undo = []"),
        ("keys = 3", "config.toml line 1", "'keys' is not a table"),
        ("\nchange = \n", "config.toml line 2", "not valid TOML"),
    ],
)
def test_a_setting_that_cannot_be_used_keeps_its_default(text: str, where: str, what: str) -> None:
    settings = parsed(text)
    assert [problem.where for problem in settings.problems] == [where]
    assert what in settings.problems[0].what
    assert settings.limits in (Limits(), Limits(change=20))
    assert not settings.read_back
    assert settings.scales == {}
    assert settings.keys == {}


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    (tmp_path / "config.toml").write_bytes(b"\xff")
    assert (
        "not UTF-8" in load_settings(tmp_path / "config.toml", shipped_muscles()).problems[0].what
    )
    assert load_settings(tmp_path, shipped_muscles()).problems[0].what.startswith("cannot be read")


def test_the_environment_names_the_file_or_its_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path))
    assert config_file() == tmp_path / "config.toml"
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "mine.toml"))
    assert config_file() == tmp_path / "mine.toml"
    monkeypatch.delenv("LIMBSCRIBE_CONFIG")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert config_file() == tmp_path / "limbscribe" / "config.toml"


CHECKLIST = """\
id = "{id}"
name = "{name}"
[[station]]
muscle = "soleus"
scale = "{scale}"
"""


def own_checklist(folder: Path, file: str, **words: str) -> None:
    (folder / "checklists").mkdir(exist_ok=True)
    text = CHECKLIST.format(**{"id": "own", "name": "Own", "scale": "neutral-zero", **words})
    (folder / "checklists" / file).write_text(text)


def test_without_own_files_the_catalogue_is_what_is_shipped(tmp_path: Path) -> None:
    catalogue = load_catalogue(tmp_path)
    assert catalogue.muscles == shipped_muscles()
    assert "upper-limb" in {checklist.id for checklist in catalogue.checklists}
    assert catalogue.problems == ()


def test_own_checklists_are_added_or_take_a_shipped_ones_place(tmp_path: Path) -> None:
    shipped = {checklist.id for checklist in load_catalogue(tmp_path).checklists}
    own_checklist(tmp_path, "a.toml")
    own_checklist(tmp_path, "b.toml", id="upper-limb", name="Ours")
    (tmp_path / "checklists" / "notes.txt").write_text("not a checklist")
    catalogue = load_catalogue(tmp_path)
    names = {checklist.id: checklist.name for checklist in catalogue.checklists}
    assert names.keys() == shipped | {"own"}
    assert names["upper-limb"] == "Ours"
    assert catalogue.problems == ()


def test_own_files_with_faults_are_left_out_and_told(tmp_path: Path) -> None:
    own_checklist(tmp_path, "a.toml")
    own_checklist(tmp_path, "b.toml")
    own_checklist(tmp_path, "c.toml", id="other", scale="straight-180")
    own_checklist(tmp_path, "d.toml", id="third", scale="dial")
    (tmp_path / "muscles.toml").write_text("[[muscle]]\nid = 'x'\n")
    (tmp_path / "config.toml").write_text("colour = 1\n")
    catalogue = load_catalogue(tmp_path)
    told = [str(problem) for problem in catalogue.problems]
    assert any(text.startswith("muscles.toml line") for text in told)
    assert any("checklists/b.toml: checklists/a.toml has the id 'own'" in text for text in told)
    assert any("checklists/c.toml: soleus has no scale 'straight-180'" in text for text in told)
    assert any(text.startswith("d.toml line") or "d.toml line 5" in text for text in told)
    assert any(text.startswith("config.toml line 1: unknown key 'colour'") for text in told)
    assert catalogue.muscles == shipped_muscles()
    assert "third" not in {checklist.id for checklist in catalogue.checklists}
