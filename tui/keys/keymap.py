"""Every key of the program: its id, its default keys, and what it does.

Screens never name a key of their own: they ask here which action a key means. A clinic can
change any binding in its configuration by id. The keys avoid what SSH, tmux and old
terminal programs swallow: no Alt, no Ctrl-A, B, S, Q, and no Escape on the way of entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


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
    Key("entry.n", ("n",), "not tested, and a letter or a digit for the reason", "not tested"),
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
    Key("entry.pace", ("v",), "pace and speed: cues at V1 and V2, and timing a stretch"),
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
    Key("opening.work", ("w",), "worklist: who is due, what is open or in conflict", "worklist"),
    Key("opening.lists", ("c",), "checklists: look, copy, change, make one", "lists"),
    Key("opening.raters", ("r",), "raters: how far they agree, from pairs on the shelf"),
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
    Key("patient.accept", ("enter", "tab"), "this is the patient, and so ends the code", "accept"),
    Key("patient.backspace", ("backspace",), "rub out"),
    Key("patient.leave", ("escape", "f10", "ctrl+c"), "leave: nothing is opened", "leave"),
    Key("locked.accept", ("enter", "tab"), "unlock with the passphrase typed", "unlock"),
    Key("locked.backspace", ("backspace",), "rub out"),
    Key("locked.leave", ("escape", "f10", "ctrl+c"), "leave the program", "leave the program"),
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
    Key("pace.next", ("enter", "tab", "down"), "the next field"),
    Key("pace.up", ("up", "shift+tab"), "the field before"),
    Key("pace.backspace", ("backspace",), "rub out; in an empty field go back one field"),
    Key("pace.sign", ("-",), "flip the sign"),
    Key("pace.tap", (" ",), "tap: start, and again at the end of the stretch", "tap"),
    Key("pace.slow", ("s",), "V1 cue, start and stop", "V1 cue"),
    Key("pace.fall", ("f",), "V2 cue, start and stop", "V2 cue"),
    Key("pace.keep", ("k",), "keep the speed with the reading; undo takes it back", "keep"),
    Key("pace.table", ("t",), "other figures of the segments", "table"),
    Key("pace.help", ("?",), "help", "help"),
    Key("pace.quit", ("q", "escape", "ctrl+c"), "back to the entry", "back"),
    Key("chart.up", ("up",), "the joint before"),
    Key("chart.down", ("down",), "the joint after"),
    Key("chart.pageup", ("pageup", "left"), "the session before"),
    Key("chart.pagedown", ("pagedown", "right"), "the session after"),
    Key("chart.view", ("v",), "change between trend, table, session and page", "view"),
    Key("chart.sides", ("b",), "trend of both sides together, or of one"),
    Key("chart.amend", ("a",), "amend: correct readings of the chosen closed session", "amend"),
    Key("chart.compare", ("x",), "compare two sessions, station by station", "compare"),
    Key("chart.events", ("e",), "treatment dates: look, add one, strike a wrong one", "dates"),
    Key("chart.session", ("s",), "start a session, or resume the open one", "session"),
    Key("chart.report", ("r",), "report of the chosen session: read, save, copy", "report"),
    Key("chart.help", ("?",), "help", "help"),
    Key("chart.quit", ("q", "ctrl+c"), "back to the list of patients", "back"),
    Key("raters.up", ("up",), "the table before", "table"),
    Key("raters.down", ("down",), "the table after"),
    Key("raters.pageup", ("pageup",), "a page of figures up"),
    Key("raters.pagedown", ("pagedown", " "), "a page of figures down", "more"),
    Key("raters.adopt", ("a",), "adopt its measurement error as the clinic's own", "adopt"),
    Key("raters.help", ("?",), "help", "help"),
    Key("raters.quit", ("q", "ctrl+c"), "back to the list of patients", "back"),
    Key("checklists.up", ("up",), "the checklist before"),
    Key("checklists.down", ("down",), "the checklist after"),
    Key("checklists.home", ("home",), "the first checklist"),
    Key("checklists.end", ("end",), "the last checklist"),
    Key("checklists.edit", ("enter",), "change one of your own", "change"),
    Key("checklists.copy", ("c",), "copy it into one of your own", "copy"),
    Key("checklists.new", ("n",), "make a new one", "new"),
    Key("checklists.help", ("?",), "help", "help"),
    Key("checklists.quit", ("q", "ctrl+c"), "back to the list of patients", "back"),
    Key("checklist.up", ("up",), "the line before"),
    Key("checklist.down", ("down",), "the line after"),
    Key("checklist.home", ("home",), "the first line"),
    Key("checklist.end", ("end",), "the last line"),
    Key("checklist.add", ("a",), "add a muscle group after this line, by its letters", "add"),
    Key("checklist.accept", ("enter", "tab"), "accept what was typed"),
    Key("checklist.backspace", ("backspace",), "rub out; with nothing typed stop typing"),
    Key("checklist.leave", ("escape",), "stop typing"),
    Key("checklist.remove", ("x",), "take this line off the list", "take off"),
    Key("checklist.earlier", ("[",), "move this line up"),
    Key("checklist.later", ("]",), "move this line down"),
    Key("checklist.sides", ("s",), "sides: both, Left, Right, the affected one"),
    Key("checklist.velocity", ("v",), "fast stretch: the usual one, V2, V3"),
    Key("checklist.scale", ("e",), "angle scale"),
    Key("checklist.order", ("o",), "muscle by muscle, or one side and then the other"),
    Key("checklist.first", ("f",), "side that is tested first"),
    Key("checklist.fields", ("d",), "fast or slow stretch first"),
    Key("checklist.tries", ("t",), "tries of each speed"),
    Key("checklist.counts", ("c",), "which of several tries counts"),
    Key("checklist.grades", ("g",), "quality up to 4 or up to 5"),
    Key("checklist.name", ("r",), "rename the checklist"),
    Key("checklist.undo", ("u",), "take the last change back"),
    Key("checklist.save", ("w", "f2", "ctrl+d"), "save it, and use it from now on", "save"),
    Key("checklist.help", ("?",), "help", "help"),
    Key("checklist.quit", ("q", "ctrl+c"), "back to the checklists", "back"),
    Key("compare.up", ("up",), "the station before"),
    Key("compare.down", ("down",), "the station after"),
    Key("compare.pageup", ("pageup",), "a page up"),
    Key("compare.pagedown", ("pagedown",), "a page down"),
    Key("compare.home", ("home",), "the first station"),
    Key("compare.end", ("end",), "the last station"),
    Key("compare.view", ("v",), "change between table, details and figures", "view"),
    Key("compare.sort", ("s",), "by size of change in units of its MDC, and back", "sort"),
    Key("compare.baseline", ("b",), "then: the first session, the baseline", "baseline"),
    Key("compare.previous", ("p",), "then: the session just before the later one", "previous"),
    Key("compare.latest", ("l",), "now: the latest session", "latest"),
    Key("compare.then_before", ("left",), "then: the session before"),
    Key("compare.then_after", ("right",), "then: the session after"),
    Key("compare.now_before", (",",), "now: the session before"),
    Key("compare.now_after", (".",), "now: the session after"),
    Key("compare.help", ("?",), "help", "help"),
    Key("compare.quit", ("q", "escape", "ctrl+c"), "back to the chart", "back"),
    Key("events.up", ("up",), "the event before"),
    Key("events.down", ("down",), "the event after"),
    Key("events.pageup", ("pageup",), "a page up"),
    Key("events.pagedown", ("pagedown",), "a page down"),
    Key("events.home", ("home",), "the first event"),
    Key("events.end", ("end",), "the last event"),
    Key("events.new", ("n",), "new treatment date, or the next date to measure", "new"),
    Key("events.strike", ("x",), "strike a wrong event, with a reason", "strike"),
    Key("events.help", ("?",), "help", "help"),
    Key("events.quit", ("q", "escape", "ctrl+c"), "back to the chart", "back"),
    Key("report.up", ("up",), "a line up"),
    Key("report.down", ("down",), "a line down"),
    Key("report.pageup", ("pageup",), "a page up"),
    Key("report.pagedown", ("pagedown", " "), "a page down", "more"),
    Key("report.home", ("home",), "the top"),
    Key("report.end", ("end",), "the end"),
    Key("report.form", ("f",), "change between text, Markdown, HTML and the short form", "form"),
    Key("report.save", ("s",), "save it to a new file", "save"),
    Key("report.copy", ("c",), "send it to the terminal's clipboard, and to a file", "copy"),
    Key("report.help", ("?",), "help", "help"),
    Key("report.quit", ("q", "escape", "ctrl+c"), "back to the chart", "back"),
    Key("help.up", ("up",), "a line up"),
    Key("help.down", ("down",), "a line down"),
    Key("help.pageup", ("pageup",), "a page up"),
    Key("help.pagedown", ("pagedown", " "), "a page down", "more"),
    Key("help.quit", ("q", "?", "enter", "escape", "ctrl+c"), "close the help", "close"),
    Key("drill.next", ("enter",), "the next session; after the last one leave", "next"),
    Key("drill.up", ("up",), "the slip before"),
    Key("drill.down", ("down",), "the slip after", "more slips"),
    Key("drill.help", ("?",), "help", "help"),
    Key("drill.quit", ("q", "escape", "ctrl+c"), "leave the drill", "leave"),
    Key("app.suspend", ("ctrl+z",), "back to the shell for a while; there fg comes back"),
)

_SAME_KEY = {"ctrl+h": "backspace", "delete": "backspace", "ctrl+j": "enter"}
"""Keys that some terminals send for another one."""


UNBOUND = "this key"
"""What a standard key of the entry means once it is bound to nothing. The entry hands on every
key it does not know, and its reducer knows the standard keys by their names."""


class Keymap:
    """The bindings in use: the defaults with a clinic's changes."""

    def __init__(self, changes: Mapping[str, tuple[str, ...]] | None = None) -> None:
        self._keys = tuple(
            Key(key.id, (changes or {}).get(key.id, key.keys), key.does, key.short) for key in KEYS
        )
        self._actions = {
            (key.id.partition(".")[0], name): key.action for key in self._keys for name in key.keys
        }
        entry = [key for key in KEYS if key.id.startswith("entry.")]
        for name in (name for key in entry for name in (key.action, *key.keys)):
            self._actions.setdefault(("entry", name), UNBOUND)

    def action(self, screen: str, key: str) -> str:
        """What a key does on a screen, "" when nothing."""
        return self._actions.get((screen, plain_key(key)), "")

    def all_keys(self) -> tuple[Key, ...]:
        """Every binding."""
        return self._keys

    def of(self, screen: str) -> tuple[Key, ...]:
        """The bindings of a screen in their order."""
        return tuple(key for key in self._keys if key.id.startswith(f"{screen}."))

    def name(self, id: str) -> str:
        """The first key of a binding as screens write it, "" when there is no such binding."""
        return next((key_name(key.keys[0]) for key in self._keys if key.id == id), "")

    def names(self, screen: str) -> dict[str, str]:
        """The first key of every action of a screen, as screens write it."""
        return {key.action: key_name(key.keys[0]) for key in self.of(screen)}

    def line(self, screen: str) -> list[tuple[str, str]]:
        """Keys and short words for the line of keys at the foot of a screen.

        Help and the way out come after the first, so that no narrow window cuts them off.
        """
        named = [key for key in self.of(screen) if key.short]
        kept = [key for key in named if key.action in ("help", "quit")]
        others = [key for key in named if key not in kept]
        return [(key_name(k.keys[0]), k.short) for k in (*others[:1], *kept, *others[1:])]


def plain_key(key: str) -> str:
    """The key that was meant where terminals send another one."""
    return _SAME_KEY.get(key, key)


def key_name(key: str) -> str:
    """A key as screens write it."""
    names = {"pageup": "PgUp", "pagedown": "PgDn", " ": "Space", "escape": "Esc"}
    return names.get(key, key if len(key) == 1 else key.replace("ctrl+", "Ctrl-").capitalize())
