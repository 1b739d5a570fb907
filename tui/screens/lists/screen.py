"""The checklists on screen: the list of all, and the editor of one of the clinic's own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from ....core.chart.checklist import Checklist
from ....core.config.catalogue import CHECKLISTS, Catalogue, load_catalogue
from ....core.config.own_lists import OwnFile, SavedList, free_id, own_files, save_checklist
from ....core.config.settings import config_file
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from .model import Editing, step
from .paint import SHIPPED, ListsView, paint_editor, paint_lists

HELP = (
    "A checklist says what is tested, in which order and how. Those that come with the program "
    "stay as they are: copy one and change the copy. Your own are files in the folder of the "
    "configuration; the version before each saving is kept beside the new one.",
)


class ListsScreen(PaintedScreen[None]):
    """Every checklist.

    Args:
        context: the context.
        use: told of the catalogue whenever a checklist was saved.
    """

    name_in_keymap = "checklists"
    about = HELP

    def __init__(self, context: Context, use: Callable[[Catalogue], None]) -> None:
        super().__init__(context)
        self._use = use
        self._folder = config_file().with_name(CHECKLISTS)
        self._files: dict[str, OwnFile] = {}
        self.view = ListsView(())
        self._read_again()

    def _read_again(self, chosen: str = "") -> None:
        self._files = own_files(self._folder, self.context.catalogue.muscles)
        lists = self.context.catalogue.checklists
        rows = tuple((one, self._whose(one)) for one in lists)
        at = next((i for i, one in enumerate(lists) if one.id == chosen), self.view.at)
        self.view = replace(self.view, rows=rows, at=max(0, min(at, len(rows) - 1)))

    def _whose(self, checklist: Checklist) -> str:
        file = self._files.get(checklist.id)
        return f"own, {file.path.name}" if file else SHIPPED

    def press(self, key: str, action: str) -> None:
        """Choose one, change it, copy it, make a new one."""
        self.view = replace(self.view, message="")
        steps = {"up": -1, "down": 1, "home": -len(self.view.rows), "end": len(self.view.rows)}
        if action in steps:
            self._move(steps[action])
        elif action in ("edit", "copy", "new"):
            self._open(action)
        else:
            self.press_other(key, action)
            return
        self.repaint()

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""
        self.view = replace(self.view, message=text)
        self.repaint()

    def _move(self, by: int) -> None:
        to = max(0, min(len(self.view.rows) - 1, self.view.at + by))
        if to == self.view.at:
            self.owner.bell()
        self.view = replace(self.view, at=to)

    def _open(self, action: str) -> None:
        if action == "new":
            self._edit(Checklist("", "New checklist", ()), None)
            return
        if not self.view.rows:
            self._refuse("there is no checklist yet")
            return
        checklist, _ = self.view.rows[self.view.at]
        unknown = [
            i.muscle for i in checklist.items if i.muscle not in self.context.catalogue.muscles
        ]
        if unknown:
            self._refuse(f"it names a muscle group that does not exist: {', '.join(unknown)}")
        elif action == "copy":
            self._edit(replace(checklist, id="", name=f"{checklist.name} (own)"), None)
        elif checklist.id in self._files:
            self._edit(checklist, self._files[checklist.id])
        else:
            copy = self.context.keymap.name("checklists.copy")
            self._refuse(f"this one comes with the program and stays as it is: {copy} copies it")

    def _refuse(self, text: str) -> None:
        self.say(text)
        self.owner.bell()

    def _edit(self, checklist: Checklist, former: OwnFile | None) -> None:
        editing = Editing(checklist, self.context.catalogue.muscles, checklist if former else None)
        self.owner.push_screen(
            EditorScreen(self.context, editing, lambda made: self._save(made, former)), self._edited
        )

    def _save(self, made: Checklist, former: OwnFile | None) -> Problem | tuple[Checklist, str]:
        """Save it and use it at once; in the demo it is only used, and no file is written."""
        taken = {one.id for one in self.context.catalogue.checklists}
        checklist = made if former else replace(made, id=free_id(made.name, taken))
        if self.context.demo:
            others = tuple(o for o in self.context.catalogue.checklists if o.id != checklist.id)
            self._take(replace(self.context.catalogue, checklists=(*others, checklist)))
            return checklist, f"{checklist.name} can be used until the demo ends; no file was made"
        saved = save_checklist(
            self._folder, checklist, self.context.catalogue.muscles, former, self.context.clock()
        )
        if isinstance(saved, Problem):
            return saved
        self._take(load_catalogue(self._folder.parent))
        return checklist, saved_words(checklist, saved)

    def _take(self, catalogue: Catalogue) -> None:
        self.context = replace(self.context, catalogue=catalogue)
        self._use(catalogue)

    def _edited(self, answer: tuple[str, str] | None) -> None:
        id_, message = answer or ("", "")
        self._read_again(id_)
        self.view = replace(self.view, message=message)
        self.repaint()

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The list."""
        return paint_lists(self.view, self.context.keymap, self.foot(width), width, height)


def saved_words(checklist: Checklist, saved: SavedList) -> str:
    """What is said after saving."""
    kept = f"; the version before is kept as {saved.kept.name}" if saved.kept else ""
    return f"{checklist.name} is saved as {_short(saved.path)} and in use{kept}"


def _short(path: Path) -> str:
    return f"{path.parent.name}/{path.name}"


class EditorScreen(PaintedScreen[tuple[str, str] | None]):
    """One checklist; ends with its id and what to say, or None when it was left.

    Args:
        context: the context.
        editing: what is edited.
        save: saves it; returns what was saved and words for it, or why it was not.
    """

    name_in_keymap = "checklist"
    about = HELP

    def __init__(
        self,
        context: Context,
        editing: Editing,
        save: Callable[[Checklist], Problem | tuple[Checklist, str]],
    ) -> None:
        super().__init__(context)
        self.editing = editing
        self._save = save

    def press(self, key: str, action: str) -> None:
        """Change it."""
        if action == "help" and not self.editing.asking:
            self.show_help()
            return
        self._show(step(self.editing, key, action))

    def pasted(self, text: str) -> None:
        """Text goes where text is asked for."""
        lines = text.strip().splitlines()
        if not self.editing.asking or not lines:
            super().pasted(text)
            return
        for character in lines[0]:
            self._show(step(self.editing, character, ""))

    def _show(self, editing: Editing) -> None:
        self.editing = editing
        if editing.refused:
            self.owner.bell()
        if editing.outcome == "left":
            self.dismiss(None)
            return
        if editing.outcome == "save":
            self._saved()
            return
        self.repaint()

    def _saved(self) -> None:
        answer = self._save(self.editing.checklist)
        if isinstance(answer, Problem):
            self.editing = replace(self.editing, message=str(answer), outcome="")
            self.owner.bell()
            self.repaint()
            return
        checklist, words = answer
        self.dismiss((checklist.id, words))

    def put_away(self) -> str:
        """What was not saved is dropped."""
        return "changes of a checklist that were not saved" if self.editing.changed else ""

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The editor."""
        return paint_editor(self.editing, self.context.keymap, self.foot(width), width, height)
