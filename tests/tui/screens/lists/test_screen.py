"""The checklist screens driven by keys: made, saved, and offered at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.tui.kit.context import Context
from limbscribe.tui.screens.lists.screen import EditorScreen, ListsScreen
from limbscribe.tui.screens.opening.screen import OpeningScreen
from textual.app import App

from tests.support.app import desk, shown, type_keys


@pytest.fixture(autouse=True)
def _own_configuration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "config"))


class Frame(App[int]):
    """An app on the opening screen."""

    def __init__(self, on: Context) -> None:
        super().__init__()
        self.opening: Any = None
        self.on = on

    async def on_mount(self) -> None:
        self.opening = OpeningScreen(self.on)
        await self.push_screen(self.opening)


async def test_a_list_is_made_and_used_at_once(tmp_path: Path):
    app = Frame(desk(tmp_path / "shelf"))
    async with app.run_test() as pilot:
        await type_keys(pilot, "c")
        assert isinstance(app.screen, ListsScreen)
        await type_keys(pilot, "n")
        assert isinstance(app.screen, EditorScreen)
        await type_keys(pilot, "r", "'Monday", "enter")
        await type_keys(pilot, "a", "'sol", "enter", "a", "'ham", "enter", "t", "w")
        assert isinstance(app.screen, ListsScreen)
        text = " ".join(" ".join(shown(pilot)).split())
        assert "Monday is saved as checklists/monday.toml and in use" in text
        await type_keys(pilot, "q")
        assert app.screen is app.opening
        made = next(c for c in app.opening.context.catalogue.checklists if c.id == "monday")
        assert [item.muscle for item in made.items] == ["soleus", "hamstrings"]
        assert made.tries == 2
    assert made in load_catalogue(tmp_path / "config").checklists


async def test_a_shipped_list_is_copied_and_an_own_one_changed(tmp_path: Path):
    app = Frame(desk(tmp_path / "shelf"))
    async with app.run_test() as pilot:
        await type_keys(pilot, "c", "enter")
        look = app.screen
        assert isinstance(look, EditorScreen)
        assert "Hip adductors" in "\n".join(shown(pilot))
        await type_keys(pilot, "x", "down", "w", "r", "a")
        assert (look.editing.at, look.editing.changed, look.editing.asking) == (1, False, "")
        assert "comes with the program" in "\n".join(shown(pilot))
        await type_keys(pilot, "q", "c", "x", "w", "enter")
        assert isinstance(app.screen, EditorScreen)
        assert app.screen.editing.kept is not None
        await type_keys(pilot, "x", "w")
        assert "the version before is kept" in " ".join(shown(pilot))
        first = app.on.catalogue.checklists[0]
        own = next(c for c in app.opening.context.catalogue.checklists if "(own)" in c.name)
        assert len(own.items) == len(first.items) - 2
    files = sorted(path.name for path in (tmp_path / "config" / "checklists").iterdir())
    assert len(files) == 2


async def test_what_is_not_saved_is_asked_about_and_then_dropped(tmp_path: Path):
    app = Frame(desk(tmp_path / "shelf"))
    async with app.run_test() as pilot:
        await type_keys(pilot, "c", "n", "a", "'sol", "enter", "q")
        assert isinstance(app.screen, EditorScreen)
        assert app.screen.put_away() != ""
        await type_keys(pilot, "q")
        assert isinstance(app.screen, ListsScreen)
    assert not (tmp_path / "config").exists()


async def test_the_demo_writes_no_file(tmp_path: Path):
    app = Frame(replace(desk(tmp_path / "shelf"), demo=True))
    async with app.run_test() as pilot:
        await type_keys(pilot, "c", "c", "w")
        assert "no file was made" in " ".join(shown(pilot))
        assert any("(own)" in c.name for c in app.opening.context.catalogue.checklists)
    assert not (tmp_path / "config").exists()


async def test_an_own_list_is_deleted_on_the_second_key_and_its_file_kept(tmp_path: Path):
    app = Frame(desk(tmp_path / "shelf"))
    folder = tmp_path / "config" / "checklists"
    async with app.run_test() as pilot:
        await type_keys(pilot, "c", "x", "x")
        assert "only your own are deleted" in "\n".join(shown(pilot))
        await type_keys(pilot, "n", "r", "'Monday", "enter", "a", "'sol", "enter", "w")
        text = (folder / "monday.toml").read_text()
        await type_keys(pilot, "x")
        assert "x again deletes it" in "\n".join(shown(pilot))
        await type_keys(pilot, "up", "down", "x")
        assert (folder / "monday.toml").exists(), "another key took the question back"
        await type_keys(pilot, "x")
        assert "Monday is deleted" in "\n".join(shown(pilot))
        await type_keys(pilot, "q")
        assert not [c for c in app.opening.context.catalogue.checklists if c.id == "monday"]
    [kept] = folder.iterdir()
    assert kept.name.startswith("monday.toml.deleted-2026")
    assert kept.read_text() == text
    assert not load_catalogue(tmp_path / "config").problems


async def test_a_list_changed_elsewhere_is_not_deleted(tmp_path: Path):
    app = Frame(desk(tmp_path / "shelf"))
    path = tmp_path / "config" / "checklists" / "monday.toml"
    async with app.run_test() as pilot:
        await type_keys(pilot, "c", "n", "r", "'Monday", "enter", "a", "'sol", "enter", "w")
        path.write_text(path.read_text() + "# by hand\n")
        await type_keys(pilot, "x", "x")
        assert "somebody has changed this file" in " ".join(" ".join(shown(pilot)).split())
    assert [p.name for p in path.parent.iterdir()] == ["monday.toml"]


async def test_the_demo_deletes_no_file_of_the_clinic(tmp_path: Path):
    app = Frame(desk(tmp_path / "shelf"))
    path = tmp_path / "config" / "checklists" / "monday.toml"
    async with app.run_test() as pilot:
        await type_keys(pilot, "c", "n", "r", "'Monday", "enter", "a", "'sol", "enter", "w")
    assert path.exists()
    demo = Frame(replace(desk(tmp_path / "demo"), catalogue=load_catalogue(path.parent.parent)))
    demo.on = replace(demo.on, demo=True)
    async with demo.run_test() as pilot:
        await type_keys(pilot, "c", "end", "x", "x")
        assert "the demo deletes no checklist" in " ".join(" ".join(shown(pilot)).split())
    assert path.exists()
