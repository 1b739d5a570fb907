"""Every key of the program: its id, its default keys, and what it does.

Screens never name a key of their own: they ask here which action a key means. A clinic can
change any binding in its configuration by id. The keys avoid what SSH, tmux and old
terminal programs swallow: no Alt, no Ctrl-A, B, S, Q, and no Escape on the way of entry.
Everywhere else Escape goes back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class KeyBinding:
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
    def screen(self) -> str:
        """The name of the screen."""
        return self.id.partition(".")[0]

    @property
    def action(self) -> str:
        """The part after the screen's name."""
        return self.id.partition(".")[2]


_key = KeyBinding

_LINE_KEYS = {
    "backspace": ("backspace", "rub out"),
    "left": ("left", "one character back"),
    "right": ("right", "one character on"),
    "home": ("home", "the start of the line"),
    "end": ("end", "the end of the line"),
    "delete": ("delete", "remove the character under the cursor"),
    "clear": ("ctrl+u", "clear the line"),
}
"""Action -> key and words of what edits a line of text, wherever one is typed."""


def _list_keys(screen: str, row: str, *without: str) -> tuple[KeyBinding, ...]:
    """The bindings of a screen that move in a list, some of them apart."""
    words = {
        "up": ("up", f"the {row} before"),
        "down": ("down", f"the {row} after"),
        "pageup": ("pageup", "a page up"),
        "pagedown": ("pagedown", "a page down"),
        "home": ("home", f"the first {row}"),
        "end": ("end", f"the last {row}"),
        "goto": ("g", f"go to a {row} by letters of its name"),
    }
    return _those_of(screen, words, without)


def _line_keys(screen: str, *without: str, where: str = "") -> tuple[KeyBinding, ...]:
    """The bindings of a screen that edit a line of text, some of them apart."""
    words = {action: (key, where + does) for action, (key, does) in _LINE_KEYS.items()}
    return _those_of(screen, words, without)


def _those_of(
    screen: str, words: Mapping[str, tuple[str, str]], without: Sequence[str]
) -> tuple[KeyBinding, ...]:
    return tuple(
        KeyBinding(f"{screen}.{action}", (key,), does)
        for action, (key, does) in words.items()
        if action not in without
    )


def _help_and_quit(screen: str, does: str, short: str = "back") -> tuple[KeyBinding, ...]:
    """The bindings of a screen for its help and the way back."""
    quit_ = KeyBinding(f"{screen}.quit", ("q", "escape", "ctrl+c"), does, short)
    return KeyBinding(f"{screen}.help", ("?",), "help", "help"), quit_


KEYS: tuple[KeyBinding, ...] = (
    _key("entry.enter", ("enter", "tab"), "accept the field; on an empty R1: no catch", "accept"),
    _key("entry.backspace", ("backspace",), "rub out; in an empty field go back one field"),
    _key("entry.-", ("-",), "a minus sign; once more flips it; + is plus"),
    _key("entry.left", ("left",), "the field before"),
    _key("entry.right", ("right",), "the field after"),
    _key("entry.up", ("up",), "the station before"),
    _key("entry.down", ("down",), "the station after"),
    _key("entry.pageup", ("pageup",), "the muscle group before"),
    _key("entry.pagedown", ("pagedown",), "the muscle group after"),
    _key("entry.home", ("home",), "the first open station"),
    _key("entry.end", ("end",), "the last open station"),
    _key("entry.n", ("n",), "not tested, and a letter or a digit for the reason", "not tested"),
    _key("entry.l", ("l",), "the rest not tested: every open station without a value"),
    _key("entry.i", ("i",), "move what was entered to the other side"),
    _key("entry.swap", ("j",), "amending a closed session: exchange left and right of all of it"),
    _key("entry.f", ("f",), "the fast stretch was V2 instead of V3, and back"),
    _key("entry.m", ("m",), "one more try of the same velocity"),
    _key("entry.k", ("k",), "clonus stopwatch start and stop, or type seconds", "clonus"),
    _key("entry.p", ("p",), "posture or test position differs; remembered for this patient"),
    _key("entry.w", ("w",), "pain, 0 to 10"),
    _key("entry.c", ("c",), "comment"),
    _key("entry.u", ("u",), "undo", "undo"),
    _key("entry.y", ("y",), "redo"),
    _key("entry.g", ("g",), "go to a station by letters of its name", "go"),
    _key("entry.o", ("o",), "override an impossible reading: why; not tested all the same"),
    _key("entry.trend", ("d",), "this joint's trend, large"),
    _key("entry.pace", ("v",), "pace and speed: cues at V1 and V2, and timing a stretch"),
    _key("entry.gaps", ("#",), "body chart: the tens of each gap, or the state, of a station"),
    _key("entry.review", ("r",), "review every station, and close the session", "review"),
    _key("entry.help", ("?",), "help", "help"),
    _key("entry.quit", ("q", "ctrl+c"), "leave; everything accepted is already on disk", "leave"),
    *_list_keys("opening", "patient", "home", "end", "goto"),
    _key("opening.home", ("home",), "the first patient; while searching: the start of the line"),
    _key("opening.end", ("end",), "the last patient; while searching: the end of the line"),
    _key("opening.chart", ("enter",), "open the chart", "chart"),
    _key("opening.session", ("s",), "start a session, or resume the open one", "session"),
    _key("opening.new", ("n",), "new patient", "new"),
    _key(
        "opening.search",
        ("/", "g"),
        "search by letters of the code; in the worklist go to a task",
        "search",
    ),
    _key("opening.work", ("w",), "worklist: who is due, what is open or in conflict", "worklist"),
    _key("opening.lists", ("c",), "checklists: look, copy, change, make one", "lists"),
    _key("opening.raters", ("r",), "raters: how far they agree, from pairs on the shelf"),
    _key("opening.caseload", ("k",), "caseload: many patients by treatment cycle"),
    _key("opening.backspace", ("backspace",), "while searching: rub out the last letter"),
    *_line_keys("opening", "backspace", "home", "end", where="while searching: "),
    _key("opening.all", ("escape",), "end the search and list every patient again"),
    _key("opening.help", ("?",), "help", "help"),
    _key("opening.quit", ("q", "ctrl+c"), "leave the program", "leave"),
    _key("form.next", ("enter",), "accept the field; after the last one the form is done", "next"),
    _key("form.down", ("tab", "down"), "the next field"),
    _key("form.previous", ("up", "shift+tab"), "the field before"),
    _key("form.backspace", ("backspace",), "rub out"),
    _key("form.left", ("left",), "the choice before; in text one character back"),
    _key("form.right", ("right",), "the choice after; in text one character on", "choose"),
    *_line_keys("form", "backspace", "left", "right"),
    _key("form.own", ("f3", "ctrl+r"), "in a row of a toxin treatment: what is different there"),
    _key("form.save", ("f2", "ctrl+d"), "the form is done", "done"),
    _key("form.help", ("f1",), "help", "help"),
    _key("form.leave", ("escape", "f10", "ctrl+c"), "leave; what was typed is not kept", "leave"),
    _key("patient.accept", ("enter", "tab"), "this is the patient, and so ends the code", "accept"),
    *_line_keys("patient"),
    _key("patient.leave", ("escape", "f10", "ctrl+c"), "leave: nothing is opened", "leave"),
    _key("resume.confirm", ("y",), "go on with the session of another day", "go on with that day"),
    _key("resume.leave", ("escape", "q", "f10", "ctrl+c"), "leave: it stays open", "leave"),
    _key("locked.accept", ("enter", "tab"), "unlock with the passphrase typed", "unlock"),
    *_line_keys("locked"),
    _key("locked.leave", ("escape", "f10", "ctrl+c"), "leave the program", "leave the program"),
    _key("cautions.confirm", ("y",), "everything listed was checked: start", "checked, start"),
    _key("cautions.sources", ("?", "f1"), "where each line comes from, and back", "sources"),
    _key("cautions.back", ("up", "backspace", "escape", "f10", "ctrl+c"), "set-up", "back"),
    *_list_keys("review", "station"),
    _key("review.entry", ("enter",), "go to this station in the entry", "correct it"),
    _key("review.close", ("s",), "sign and close the session: asks for initials", "sign and close"),
    _key("review.clear", ("c",), "clear the half-typed stations, and go on to sign"),
    _key("review.sure", ("f2", "ctrl+d"), "straight after that key: clear them"),
    *_help_and_quit("review", "back to the entry"),
    _key("sign.accept", ("enter", "tab"), "sign with the initials typed", "sign"),
    *_line_keys("sign"),
    _key("sign.leave", ("escape", "f10", "ctrl+c"), "back to the review, not signed", "back"),
    _key("pace.next", ("enter", "tab", "down"), "the next field"),
    _key("pace.up", ("up", "shift+tab"), "the field before"),
    _key("pace.backspace", ("backspace",), "rub out; in an empty field go back one field"),
    *_line_keys("pace", "backspace"),
    _key("pace.sign", ("-",), "flip the sign"),
    _key("pace.tap", (" ",), "tap: start, and again at the end of the stretch", "tap"),
    _key("pace.slow", ("s",), "V1 cue, start and stop", "V1 cue"),
    _key("pace.fall", ("f",), "V2 cue, start and stop", "V2 cue"),
    _key("pace.keep", ("k",), "keep the speed with the reading; undo takes it back", "keep"),
    _key("pace.table", ("t",), "other figures of the segments", "table"),
    *_help_and_quit("pace", "back to the entry"),
    *_list_keys("chart", "joint"),
    _key("chart.before", ("left",), "the session before; in the page the joint before"),
    _key("chart.after", ("right",), "the session after; in the page the joint after"),
    _key("chart.view", ("v",), "change between trend, table, session and page", "view"),
    _key("chart.sides", ("b",), "trend of both sides together, or of one"),
    _key("chart.amend", ("a",), "amend: correct readings of the chosen closed session", "amend"),
    _key("chart.withdraw", ("w",), "withdraw the chosen session, or move it to another patient"),
    _key("chart.compare", ("x",), "compare two sessions, station by station", "compare"),
    _key(
        "chart.events",
        ("e",),
        "treatment dates and goals: look, add, score, strike a wrong one",
        "dates",
    ),
    _key("chart.details", ("p",), "patient details: month of birth, sex and so on", "info"),
    _key("chart.session", ("s",), "start a session, or resume the open one", "session"),
    _key("chart.report", ("r",), "report of the chosen session: read, save, copy", "report"),
    *_help_and_quit("chart", "back to the list of patients"),
    _key("raters.figures", ("enter",), "the figures of the chosen table", "figures"),
    _key("raters.up", ("up",), "the table before; in its figures a line up"),
    _key("raters.down", ("down",), "the table after; in its figures a line down"),
    *_list_keys("raters", "table", "up", "down", "pagedown"),
    _key("raters.pagedown", ("pagedown", " "), "a page down", "more"),
    _key("raters.before", ("left",), "the table before, also among figures"),
    _key("raters.after", ("right",), "the table after, also among figures", "next"),
    _key("raters.variances", ("v",), "with the analysis of variance, and without", "variance"),
    _key("raters.adopt", ("a",), "adopt its measurement error as the clinic's own", "adopt"),
    *_help_and_quit("raters", "back: to the overview, to patients"),
    _key("adopt.accept", ("enter", "tab"), "adopt it, once its number is typed out", "adopt"),
    *_line_keys("adopt"),
    _key("adopt.leave", ("escape", "f10", "ctrl+c"), "back; nothing is adopted", "back"),
    *_list_keys("checklists", "checklist"),
    _key("checklists.edit", ("enter",), "look at it; change one of your own", "open"),
    _key("checklists.copy", ("c",), "copy it into one of your own", "copy"),
    _key("checklists.new", ("n",), "make a new one", "new"),
    _key("checklists.delete", ("x",), "delete one of your own; the same key again does it"),
    *_help_and_quit("checklists", "back to the list of patients"),
    *_list_keys("checklist", "line", "home", "end", "goto"),
    _key("checklist.home", ("home",), "the first line; while typing: the start of the text"),
    _key("checklist.end", ("end",), "the last line; while typing: the end of the text"),
    _key("checklist.add", ("a",), "add a muscle group after this line, by its letters", "add"),
    _key("checklist.accept", ("enter", "tab"), "accept what was typed"),
    _key("checklist.backspace", ("backspace",), "rub out; with nothing typed stop typing"),
    *_line_keys("checklist", "backspace", "home", "end", where="while typing: "),
    _key("checklist.leave", ("escape",), "stop typing; else back to the checklists"),
    _key("checklist.remove", ("x",), "remove this line", "remove"),
    _key("checklist.earlier", ("[",), "move this line up"),
    _key("checklist.later", ("]",), "move this line down"),
    _key("checklist.sides", ("s",), "sides: both, Left, Right, the affected one"),
    _key("checklist.velocity", ("v",), "fast stretch: the usual one, V2, V3"),
    _key("checklist.scale", ("e",), "angle scale"),
    _key("checklist.order", ("o",), "order: by muscle, by side, by position of the patient"),
    _key("checklist.first", ("f",), "side that is tested first"),
    _key("checklist.fields", ("d",), "fast or slow stretch first"),
    _key("checklist.tries", ("t",), "tries of each speed"),
    _key("checklist.counts", ("c",), "which of several tries counts"),
    _key("checklist.grades", ("g",), "quality up to 4 or up to 5"),
    _key("checklist.name", ("r",), "rename the checklist"),
    _key("checklist.undo", ("u",), "take the last change back"),
    _key("checklist.save", ("w", "f2", "ctrl+d"), "save it, and use it from now on", "save"),
    _key("checklist.help", ("?",), "help", "help"),
    _key("checklist.quit", ("q", "ctrl+c"), "back to the checklists", "back"),
    *_list_keys("compare", "station"),
    _key("compare.view", ("v",), "change between table, details, figures and gaps", "view"),
    _key("compare.sort", ("s",), "by size of change in units of its MDC, and back", "sort"),
    _key("compare.baseline", ("b",), "then: the first session, the baseline", "baseline"),
    _key("compare.previous", ("p",), "then: the session just before the later one", "previous"),
    _key("compare.injection", ("i",), "then: the last session before an injection", "injection"),
    _key("compare.latest", ("l",), "now: the latest session", "latest"),
    _key("compare.then_before", ("left",), "then: the session before"),
    _key("compare.then_after", ("right",), "then: the session after"),
    _key("compare.now_before", (",",), "now: the session before"),
    _key("compare.now_after", (".",), "now: the session after"),
    *_help_and_quit("compare", "back to the chart"),
    *_list_keys("caseload", "muscle group"),
    _key("caseload.open", ("enter",), "open what was counted in its windows", "open"),
    _key("caseload.before", ("left",), "opened: the muscle group before"),
    _key("caseload.after", ("right",), "opened: the muscle group after", "after"),
    _key("caseload.angle", ("v",), "change between R1, R2 and gap", "angle"),
    _key("caseload.choose", ("f",), "choose patients, treatments and dates", "choose"),
    _key("caseload.sides", ("s",), "both sides of a muscle group in one row, and back", "sides"),
    *_help_and_quit("caseload", "back"),
    *_list_keys("events", "event"),
    _key("events.new", ("n",), "new treatment date, or the next date to measure", "new"),
    _key("events.strike", ("x",), "strike a wrong event, goal or score, with a reason", "strike"),
    _key("events.goal", ("a",), "add a goal to the selected treatment", "add goal"),
    _key("events.score", ("s",), "score the selected goal from -2 to +2", "score"),
    *_help_and_quit("events", "back to the chart"),
    _key("report.up", ("up",), "a line up"),
    _key("report.down", ("down",), "a line down"),
    _key("report.pageup", ("pageup",), "a page up"),
    _key("report.pagedown", ("pagedown", " "), "a page down", "more"),
    _key("report.home", ("home",), "the top"),
    _key("report.end", ("end",), "the end"),
    _key("report.form", ("f",), "change between text, Markdown, HTML and the short form", "form"),
    _key("report.full", ("v",), "the full report behind the page, and back", "full"),
    _key("report.save", ("s",), "save it to a new file", "save"),
    _key("report.copy", ("c",), "send it to the terminal's clipboard, and to a file", "copy"),
    *_help_and_quit("report", "back to the chart"),
    _key("help.up", ("up",), "a line up"),
    _key("help.down", ("down",), "a line down"),
    _key("help.pageup", ("pageup",), "a page up"),
    _key("help.pagedown", ("pagedown", " "), "a page down", "more"),
    _key("help.quit", ("q", "?", "enter", "escape", "ctrl+c"), "close the help", "close"),
    _key("drill.next", ("enter",), "the next session; after the last one leave", "next"),
    _key("drill.down", ("down",), "the slip after", "more slips"),
    *_list_keys("drill", "slip", "down"),
    *_help_and_quit("drill", "leave the drill", "leave"),
    _key("app.redraw", ("ctrl+l",), "draw the screen anew, after others wrote to the terminal"),
    _key("app.suspend", ("ctrl+z",), "back to the shell for a while; there fg comes back"),
)

_SAME_KEY = {"ctrl+h": "backspace", "delete": "backspace", "ctrl+j": "enter"}
"""Keys that some terminals send for another one; where the key itself is bound, it is meant."""


UNBOUND = "this key"
"""What a standard key of the entry means once it is bound to nothing. The entry hands on every
key it does not know, and its reducer knows the standard keys by their names."""


class Keymap:
    """The bindings in use: the defaults with a clinic's changes.

    Attributes:
        keys: every binding.
    """

    def __init__(self, changes: Mapping[str, tuple[str, ...]] | None = None) -> None:
        self.keys = tuple(replace(key, keys=(changes or {}).get(key.id, key.keys)) for key in KEYS)
        self._of: dict[str, tuple[KeyBinding, ...]] = {}
        for key in self.keys:
            self._of[key.screen] = (*self._of.get(key.screen, ()), key)
        self._actions = {(key.screen, name): key.action for key in self.keys for name in key.keys}
        entry = [key for key in KEYS if key.screen == "entry"]
        for name in (name for key in entry for name in (key.action, *key.keys)):
            self._actions.setdefault(("entry", name), UNBOUND)

    def action(self, screen: str, key: str) -> str:
        """What a key does on a screen, "" when nothing."""
        # With Caps Lock on, a letter that is bound to nothing else is the small one.
        names = (key, plain_key(key), key.lower() if len(key) == 1 else key)
        return next(filter(None, (self._actions.get((screen, name)) for name in names)), "")

    def of(self, screen: str) -> tuple[KeyBinding, ...]:
        """The bindings of a screen in their order."""
        return self._of.get(screen, ())

    def name(self, id: str) -> str:
        """The first key of a binding as screens write it, "" when there is no such binding."""
        return next((key_name(key.keys[0]) for key in self.keys if key.id == id), "")

    def names(self, screen: str) -> dict[str, str]:
        """The first key of every action of a screen, as screens write it."""
        return {key.action: key_name(key.keys[0]) for key in self.of(screen)}

    def line(self, screen: str, words: Mapping[str, str] | None = None) -> list[tuple[str, str]]:
        """Keys and short words for the line of keys at the foot of a screen.

        Help and the way out come after the first, so that no narrow window cuts them off.

        Args:
            screen: its name.
            words: other short words, by action; "" leaves the key out.
        """
        short = {key.action: key.short for key in self.of(screen)} | dict(words or {})
        named = [key for key in self.of(screen) if short[key.action]]
        kept = [key for key in named if key.action in ("help", "quit")]
        others = [key for key in named if key not in kept]
        ordered = (*others[:1], *kept, *others[1:])
        return [(key_name(key.keys[0]), short[key.action]) for key in ordered]


def plain_key(key: str) -> str:
    """The key that was meant where terminals send another one."""
    return _SAME_KEY.get(key, key)


def key_name(key: str) -> str:
    """A key as screens write it."""
    names = {"pageup": "PgUp", "pagedown": "PgDn", " ": "Space", "escape": "Esc"}
    return names.get(key, key if len(key) == 1 else key.replace("ctrl+", "Ctrl-").capitalize())
