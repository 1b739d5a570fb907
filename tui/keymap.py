"""Every key of the program: its id, its default keys, and what it does.

Screens never name a key of their own: they ask here which action a key means. A clinic can
change any binding in its configuration by id. The keys avoid what SSH, tmux and old
terminal programs swallow: no Alt, no Ctrl-A, B, S, Q, and no Escape on the way of entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..core.problem import Problem


@dataclass(frozen=True, slots=True)
class Key:
    """One binding.

    Attributes:
        id: "screen.action", used in the configuration.
        keys: default keys: a character, or a name such as "enter" or "pagedown".
        does: what it does, for the line of keys and the help.
        short: one or two words for the line of keys, "" when only the help names it.
    """

    id: str
    keys: tuple[str, ...]
    does: str
    short: str = ""

    @property
    def action(self) -> str:
        """The part after the screen's name."""
        return self.id.partition(".")[2]


KEYS: tuple[Key, ...] = (
    Key("entry.enter", ("enter", "tab"), "accept the field; on an empty R1: no catch", "accept"),
    Key("entry.backspace", ("backspace",), "rub out; in an empty field go back one field"),
    Key("entry.-", ("-",), "flip the sign"),
    Key("entry.left", ("left",), "the field before"),
    Key("entry.right", ("right",), "the field after"),
    Key("entry.up", ("up",), "the station before"),
    Key("entry.down", ("down",), "the station after"),
    Key("entry.pageup", ("pageup",), "the muscle group before"),
    Key("entry.pagedown", ("pagedown",), "the muscle group after"),
    Key("entry.home", ("home",), "the first open station"),
    Key("entry.end", ("end",), "the last open station"),
    Key("entry.n", ("n",), "not tested, and a letter for the reason", "not tested"),
    Key("entry.f", ("f",), "the fast stretch was V2 instead of V3, and back"),
    Key("entry.m", ("m",), "one more try of the same velocity"),
    Key("entry.k", ("k",), "clonus stopwatch start and stop, or type seconds", "clonus"),
    Key("entry.p", ("p",), "posture or test position differs; remembered for this patient"),
    Key("entry.w", ("w",), "pain, 0 to 10"),
    Key("entry.c", ("c",), "comment"),
    Key("entry.u", ("u",), "undo", "undo"),
    Key("entry.y", ("y",), "redo"),
    Key("entry.g", ("g",), "go to a station by letters of its name", "go to"),
    Key("entry.o", ("o",), "let an impossible reading stand, with a reason"),
    Key("entry.trend", ("d",), "this joint's trend, large"),
    Key("entry.review", ("r",), "review every station, and close the session", "review"),
    Key("entry.help", ("?",), "help", "help"),
    Key("entry.quit", ("q", "ctrl+c"), "leave; everything accepted is already on disk", "leave"),
    Key("opening.up", ("up",), "the patient before"),
    Key("opening.down", ("down",), "the patient after"),
    Key("opening.pageup", ("pageup",), "a page up"),
    Key("opening.pagedown", ("pagedown",), "a page down"),
    Key("opening.home", ("home",), "the first patient"),
    Key("opening.end", ("end",), "the last patient"),
    Key("opening.chart", ("enter",), "open the chart", "chart"),
    Key("opening.session", ("s",), "start a session, or resume the open one", "session"),
    Key("opening.new", ("n",), "new patient", "new"),
    Key("opening.search", ("/",), "search by letters of the code", "search"),
    Key("opening.backspace", ("backspace",), "while searching: rub out the last letter"),
    Key("opening.all", ("escape",), "end the search and list every patient again"),
    Key("opening.help", ("?",), "help", "help"),
    Key("opening.quit", ("q", "ctrl+c"), "leave the program", "leave"),
    Key("form.next", ("enter",), "accept the field; on the last one take the form", "next"),
    Key("form.down", ("tab", "down"), "the next field"),
    Key("form.previous", ("up", "shift+tab"), "the field before"),
    Key("form.backspace", ("backspace",), "rub out"),
    Key("form.left", ("left",), "the choice before"),
    Key("form.right", ("right",), "the choice after", "choose"),
    Key("form.save", ("f2", "ctrl+d"), "take the form as it stands", "take it"),
    Key("form.help", ("f1",), "help", "help"),
    Key("form.leave", ("escape", "f10", "ctrl+c"), "leave without taking it", "leave"),
    Key("cautions.confirm", ("y",), "everything listed was checked: start", "checked, start"),
    Key("cautions.sources", ("?", "f1"), "where each line comes from, and back", "sources"),
    Key("cautions.back", ("up", "backspace", "escape", "f10", "ctrl+c"), "set-up", "back"),
    Key("review.up", ("up",), "the station before"),
    Key("review.down", ("down",), "the station after"),
    Key("review.pageup", ("pageup",), "a page up"),
    Key("review.pagedown", ("pagedown",), "a page down"),
    Key("review.home", ("home",), "the first station"),
    Key("review.end", ("end",), "the last station"),
    Key("review.entry", ("enter",), "go to this station in the entry", "mend it"),
    Key("review.close", ("s",), "sign and close the session", "sign and close"),
    Key("review.help", ("?",), "help", "help"),
    Key("review.quit", ("q", "ctrl+c"), "back to the entry", "back"),
    Key("chart.up", ("up",), "the joint before", "joint"),
    Key("chart.down", ("down",), "the joint after"),
    Key("chart.pageup", ("pageup", "left"), "the session before", "session"),
    Key("chart.pagedown", ("pagedown", "right"), "the session after"),
    Key("chart.view", ("v",), "change between trend, table and session", "view"),
    Key("chart.session", ("s",), "start a session, or resume the open one", "session"),
    Key("chart.help", ("?",), "help", "help"),
    Key("chart.quit", ("q", "ctrl+c"), "back to the list of patients", "back"),
    Key("help.up", ("up",), "a line up"),
    Key("help.down", ("down",), "a line down"),
    Key("help.pageup", ("pageup",), "a page up"),
    Key("help.pagedown", ("pagedown", " "), "a page down", "more"),
    Key("help.quit", ("q", "?", "enter", "escape", "ctrl+c"), "close the help", "close"),
)

_SAME_KEY = {"ctrl+h": "backspace", "delete": "backspace", "ctrl+j": "enter"}
"""Keys that some terminals send for another one."""


class Keymap:
    """The bindings in use: the defaults with a clinic's changes."""

    def __init__(self, changes: Mapping[str, tuple[str, ...]] | None = None) -> None:
        self._keys = tuple(
            Key(key.id, (changes or {}).get(key.id, key.keys), key.does, key.short) for key in KEYS
        )
        self._actions = {
            (key.id.partition(".")[0], name): key.action for key in self._keys for name in key.keys
        }

    def action(self, screen: str, key: str) -> str:
        """What a key does on a screen, "" when nothing."""
        return self._actions.get((screen, _SAME_KEY.get(key, key)), "")

    def all_keys(self) -> tuple[Key, ...]:
        """Every binding."""
        return self._keys

    def of(self, screen: str) -> tuple[Key, ...]:
        """The bindings of a screen in their order."""
        return tuple(key for key in self._keys if key.id.startswith(f"{screen}."))

    def name(self, id: str) -> str:
        """The first key of a binding as screens write it, "" when there is no such binding."""
        return next((key_name(key.keys[0]) for key in self._keys if key.id == id), "")

    def line(self, screen: str) -> list[tuple[str, str]]:
        """Keys and short words for the line of keys at the foot of a screen.

        The help comes second, so that no narrow window cuts it off.
        """
        named = [key for key in self.of(screen) if key.short]
        helping = [key for key in named if key.action == "help"]
        others = [key for key in named if key.action != "help"]
        return [(key_name(k.keys[0]), k.short) for k in (*others[:1], *helping, *others[1:])]


def key_name(key: str) -> str:
    """A key as screens write it."""
    names = {"pageup": "PgUp", "pagedown": "PgDn", " ": "Space", "escape": "Esc"}
    return names.get(key, key if len(key) == 1 else key.replace("ctrl+", "Ctrl-").capitalize())


def check_changes(changes: Mapping[str, tuple[str, ...]]) -> list[Problem]:
    """What is wrong with a clinic's changes: unknown ids, and two actions on one key."""
    known = {key.id for key in KEYS}
    problems = [
        Problem("keys", f"no binding {id_!r}", "the README lists the ids")
        for id_ in changes
        if id_ not in known
    ]
    seen: dict[tuple[str, str], str] = {}
    for key in Keymap(changes).all_keys():
        for name in key.keys:
            spot = (key.id.partition(".")[0], name)
            if spot in seen:
                what = f"{name!r} is bound to both {seen[spot]} and {key.id}"
                problems.append(Problem("keys", what, "give one of them another key"))
            seen[spot] = key.id
    return problems
