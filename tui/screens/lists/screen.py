"""The checklists on screen: the list of all, and the editor of one of the clinic's own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.chart.checklist import Checklist
from ....core.config.catalogue import CHECKLISTS, Catalogue, load_catalogue
from ....core.config.own_lists import (
    OwnFile,
    SavedList,
    free_id,
    own_files,
    remove_checklist,
    save_checklist,
)
from ....core.config.settings import config_file
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from ...kit.scroll import clamped, moved, moving
from .model import Editing, step, typed
from .paint import SHIPPED, editor_hint, lists_hint, paint_editor, paint_lists

HELP = (
    "A checklist says what is tested, in which order and how. Those that come with the program "
    "can be looked at and stay as they are: copy one and change the copy. Your own can be changed, "
    "renamed and deleted; a deleted one is no longer offered, its file is kept aside. Your own are "
    "files in the folder of the configuration; the version before each saving is kept "
    "beside the new one.",
)


class ListsScreen(ListScreen[None]):
    """Every checklist.

    Args:
        context: the context.
        use: gets the catalogue whenever a checklist was saved.
    """

    name_in_keymap = "checklists"
    about = HELP
    kept_rows = 3

    def __init__(self, context: Context, use: Callable[[Catalogue], None]) -> None:
        super().__init__(context)
        self._use = use
        self._folder = config_file().with_name(CHECKLISTS)
        self._files: dict[str, OwnFile] = {}
        self._lists: tuple[tuple[Checklist, str], ...] = ()
        self._at = 0
        self._read_again()
        self.actions |= {**moving(self._move), "edit": self._change, "copy": self._copy}
        self._deleting = ""
        self.actions |= {"delete": self._delete}
        self.actions |= {"new": lambda: self._edit(Checklist("", "New checklist", ()), None)}

    def _read_again(self, chosen: str = "") -> None:
        self._files = own_files(self._folder, self.context.catalogue.muscles)
        lists = self.context.catalogue.checklists
        self._lists = tuple((one, self._whose(one)) for one in lists)
        at = next((i for i, one in enumerate(lists) if one.id == chosen), self._at)
        self._at = clamped(at, len(lists))

    def _whose(self, checklist: Checklist) -> str:
        file = self._files.get(checklist.id)
        return f"own, {file.path.name}" if file else SHIPPED

    def _move(self, action: str) -> None:
        to = moved(self._at, action, len(self._lists), self.room - 3)
        if to == self._at:
            self.ring()
        self.go_to(to)

    def names(self) -> Sequence[str]:
        """Name every checklist."""
        return [checklist.name for checklist, _ in self._lists]

    def go_to(self, index: int) -> None:
        """Choose a checklist."""
        self._at = index

    def _chosen(self) -> Checklist | None:
        """The chosen checklist; None, and a word why, when nothing can be made of it."""
        if not self._lists:
            self.refuse("there is no checklist yet")
            return None
        checklist, _ = self._lists[self._at]
        if unknown := checklist.unknown(self.context.catalogue.muscles):
            self.refuse(f"it names a muscle group that does not exist: {', '.join(unknown)}")
            return None
        return checklist

    def _copy(self) -> None:
        if checklist := self._chosen():
            self._edit(replace(checklist, id="", name=f"{checklist.name} (own)"), None)

    def press(self, key: str, action: str) -> None:
        """Do what a key means; any but the one that deletes takes its question back."""
        if action != "delete":
            self._deleting = ""
        super().press(key, action)

    def _change(self) -> None:
        """Open one of the clinic's own; look at one that comes with the program."""
        if checklist := self._chosen():
            former = self._files.get(checklist.id)
            self._edit(checklist, former, fixed=former is None)

    def _delete(self) -> None:
        """Ask once, then take one of the clinic's own out of use; its file is kept aside."""
        if not self._lists:
            self.refuse("there is no checklist yet")
            return
        checklist, _ = self._lists[self._at]
        file = self._files.get(checklist.id)
        if self.context.demo:
            self.refuse("the demo deletes no checklist: nothing was changed")
        elif file is None:
            self.refuse("this one comes with the program and stays: only your own are deleted")
        elif self._deleting != checklist.id:
            self._deleting = checklist.id
            again = self.context.keymap.name("checklists.delete")
            self.refuse(f"{checklist.name} is taken out of use: {again} again deletes it")
        else:
            self._deleting = ""
            kept = remove_checklist(file, self.context.clock())
            if isinstance(kept, Problem):
                self.refuse(str(kept))
                return
            self._take(load_catalogue(self._folder.parent))
            self._read_again()
            self.say(f"{checklist.name} is deleted; its file is kept as {kept.name}")

    def _edit(self, checklist: Checklist, former: OwnFile | None, fixed: bool = False) -> None:
        kept = checklist if former or fixed else None
        editing = Editing(checklist, self.context.catalogue.muscles, kept, fixed=fixed)
        editor = EditorScreen(self.context, editing, lambda made: self._save(made, former))
        self.owner.push_screen(editor, self._edited)

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
        self.say(message)

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the list."""
        return paint_lists(self._lists, self._at, width, height)

    def hint(self) -> str:
        """Say what can be done with the chosen checklist."""
        whose = self._lists[self._at][1] if self._lists else ""
        return lists_hint(whose, self.context.keymap)


def saved_words(checklist: Checklist, saved: SavedList) -> str:
    """What is said after saving."""
    path = saved.path
    kept = f"; the version before is kept as {saved.kept.name}" if saved.kept else ""
    return f"{checklist.name} is saved as {path.parent.name}/{path.name} and in use{kept}"


class EditorScreen(PaintedScreen[tuple[str, str] | None]):
    """One checklist; ends with its id and what to say, or None when it was left.

    Args:
        context: the context.
        editing: what is edited.
        save: saves it; returns what was saved and words for it, or why it was not.
    """

    name_in_keymap = "checklist"
    about = HELP
    kept_rows = 3

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
        self._show(typed(self.editing, lines[0]))

    def _show(self, editing: Editing) -> None:
        self.editing = editing
        if editing.outcome == "left":
            self.dismiss(None)
        elif editing.outcome == "save":
            self._saved()
        else:
            self.say(editing.message, ring=editing.refused)

    def _saved(self) -> None:
        answer = self._save(self.editing.checklist)
        if isinstance(answer, Problem):
            self.refuse(str(answer))
            return
        checklist, words = answer
        self.dismiss((checklist.id, words))

    def put_away(self) -> str:
        """What was not saved is dropped."""
        return "changes of a checklist that were not saved" if self.editing.changed else ""

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the editor."""
        return paint_editor(self.editing, self.context.keymap, width, height)

    def hint(self) -> str:
        """Say what the keys do."""
        return editor_hint(self.editing, self.context.keymap, self.canvas.size.width)
