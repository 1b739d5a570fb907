"""The entry screen: keys to the reducer, its effects to the journal, its state to the canvas."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace

from textual.timer import Timer

from ....core.change.trend import Series, point_of, series_of
from ....core.change.trend_events import events_touching
from ....core.chart.chart import Chart
from ....core.chart.events import standing, toxin_words
from ....core.entry.accept import keep_speed
from ....core.entry.as_saved import plan_of
from ....core.entry.blind import TREND_HIDDEN
from ....core.entry.closing import cleared, half_typed
from ....core.entry.holding import interrupted, takes_commands
from ....core.entry.log import replay, save_to_doc
from ....core.entry.moving import cursor_to, stopwatch_runs
from ....core.entry.readings import reading_of, session_readings
from ....core.entry.said import (
    enter_means_no_catch,
    grade_words,
    names_what_was_stored,
    stored_words,
)
from ....core.entry.state import (
    TEXT_MODES,
    VALUE_KEYS,
    Bell,
    Effect,
    EntryState,
    Mode,
    Save,
)
from ....core.entry.step import step
from ....core.entry.stopping import free, hold
from ....core.errors import NotSaved, ShelfError
from ....core.shelf import OpenSession
from ....core.shelf.held import taken_over_words
from ....core.tardieu.reading import MAX_TEXT
from ....core.text import hidden_character
from ...kit.context import Closing, Context, Signed
from ...kit.paint import Row
from ...kit.screen import TOO_EARLY, PaintedScreen
from ...terminal.after import after
from .keys import for_reducer
from .layout import View, paint_entry, resting_rows

REST_S = 0.4
"""s without a key; a recorder who types on is not made to wait for what is drawn then."""

TREND_SESSIONS = 60
"""Latest sessions in the trend beside the fields, which is some 30 columns wide."""

ARRIVED_S = 1.0
"""s from one look to the next at what has arrived at the server."""

ONLY_HERE = "the server does not answer: go on, fields are kept here and sent when it is back"

NO_CATCH, ACCEPT = {"enter": "no catch"}, {"enter": "accept  "}
"""Words of the line of keys, at an empty R1 and elsewhere: of one width, so that only they
change and not the whole line."""


class EntryScreen(PaintedScreen[str | None]):
    """Entry of one session; ends with "closed" when it was signed, None when left open."""

    name_in_keymap = "entry"

    def __init__(self, context: Context, chart: Chart, opened: OpenSession) -> None:
        super().__init__(context)
        self._chart = chart
        self._opened = opened
        session = opened.session
        self.state, problems = replay(
            plan_of(context.catalogue, chart, session, context.keymap.names("entry")),
            opened.entries,
        )
        problems = [*opened.problems, *problems]
        if problems:
            self.state = replace(self.state, message=str(problems[0]))
        elif opened.taken_over_from:
            words = taken_over_words(opened.taken_over_from, context.clock())
            self.state = replace(self.state, message=words)
        elif opened.entries:
            self.state = replace(self.state, message="resumed where it was left")
        self._head = (
            chart.patient.code,
            f"session {chart.next_number}",
            session.date_words,
            f"examiner {session.examiner}",
            f"recorder {session.recorder}",
        )
        self._below: Sequence[Row] = ()
        self._below_of: tuple[object, ...] = ()
        self._below_timer: Timer | None = None
        self._stopwatch: Timer | None = None
        self._leaving = False
        self.signed: Signed | None = None
        self._stored = ""
        self._gaps = False
        self._only_here = 0
        self.actions |= {"trend": self._trend_large, "pace": self._pace, "review": self._review}
        self.actions |= {"swap": self._swap, "gaps": self._turn_figure}

    # Keys ---------------------------------------------------------------------------------

    def press(self, key: str, action: str) -> None:
        """Shell actions here, everything else to the reducer."""
        if action in self.actions and takes_commands(self.state):
            self.state = interrupted(self.state)
            if self.state.mode is Mode.FIELDS and self.state.hold is None:
                self.state = replace(self.state, message="")  # said before another screen came
            self.actions[action]()
            return
        if action == "quit" and len(key) > 1:
            self.leave()
            return
        self._leaving = False
        self._take(for_reducer(self.state, key, action))

    def too_early(self, dropped: Set[str]) -> None:
        """Hold the entry where part of a value was dropped: the rest of it is being typed."""
        super().too_early(dropped)
        if VALUE_KEYS & dropped and self.state.hold is None and self.state.mode not in TEXT_MODES:
            told = self.told
            held, _ = hold(self.state, TOO_EARLY, "enter", self.context.moment())
            self.state = replace(held, message=told or TOO_EARLY)
            self.repaint()

    def pasted(self, text: str) -> None:
        """Text goes into a text prompt; numbers are typed, so that nobody pastes a session."""
        if self.state.mode not in TEXT_MODES:
            self.say("pasting is for comments and reasons; type the numbers")
            return
        odd = hidden_character(text)
        if odd or len(text) > MAX_TEXT:
            why = f"it holds {odd}, which nobody can see" if odd else "it is far too long"
            self.say(f"nothing was pasted: {why}")
            return
        for character in text:
            self._take(" " if character in "\r\n\t" else character)

    def _take(self, key: str) -> None:
        before = self.state
        state, effects = step(before, key, self.context.moment())
        if self._perform(effects):
            self.state = state
        stored = stored_words(before, self.state)
        # It stays until the line is needed for something else.
        self._stored = stored or ("" if self.state.message else self._stored)
        self.repaint()
        self._tick_if_running()

    def _perform(self, effects: Sequence[Effect]) -> bool:
        """Save first; what could not be saved is not shown as accepted."""
        for effect in effects:
            if isinstance(effect, Save):
                try:
                    self._opened.append(save_to_doc(effect, self.context.wall()))
                except NotSaved as error:
                    self.state = replace(self.state, message=str(error))
                    self.ring()
                    return False
            elif isinstance(effect, Bell):
                self.ring()
        return True

    def say(self, text: str, ring: bool = True) -> None:
        """Show a sentence where the reducer has its own."""
        self.state = replace(self.state, message=text)
        self._stored = ""
        super().say("", ring)

    def key_words(self) -> dict[str, str]:
        """What Enter does depends on the field."""
        return NO_CATCH if enter_means_no_catch(self.state) else ACCEPT

    @property
    def told(self) -> str:
        """The sentence of the reducer, where there is one."""
        return self.state.message

    # Painting -----------------------------------------------------------------------------

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The whole screen."""
        self._below_soon()
        return paint_entry(self._view(width), width, height)

    def _view(self, width: int) -> View:
        ticks, foot = self.context.ticks(), self.foot(width)
        toxin = self._toxin()
        seen, stored = self.seen_bell, self._stored
        about = (toxin, seen, stored, self._gaps, self._only_here)
        return View(self.state, self._head, self._below, ticks, foot, *about)

    def _toxin(self) -> str:
        """Days since an injection of the current station, "" without one."""
        station, day = self.state.station, self._opened.session.when.date()
        bands = self.context.catalogue.settings.toxin_bands
        return toxin_words(self._chart.events, station.muscle.id, station.side, day, bands)

    def on_mount(self) -> None:
        """Where fields go on to a server, say from time to time how many have not arrived."""
        if self._opened.only_here is not None:
            self.set_interval(ARRIVED_S, self._look_what_arrived)

    def _look_what_arrived(self) -> None:
        before, self._only_here = self._only_here, self._opened.only_here or 0
        if before == self._only_here:
            return
        free_line = not self.state.message or names_what_was_stored(self.state)
        if not before and free_line and self.state.mode is Mode.FIELDS:
            self.state = replace(self.state, message=ONLY_HERE)
        elif not self._only_here and self.state.message == ONLY_HERE:
            self.state = replace(self.state, message="")
        self.repaint()

    def _series(self) -> Series:
        """The station's trend with the present reading as its last point."""
        station = self.state.station
        past = self._chart.before(self._opened.session)[-TREND_SESSIONS:]
        series = series_of(past, station.muscle.id, station.side)
        now = reading_of(self.state, self.state.cursor.station)
        if now.r1 is None and now.r2 is None:
            return series
        return replace(series, points=(*series.points, point_of(self._opened.session, now)))

    def _below_soon(self) -> None:
        """Draw what is below the fields once the keys have come to rest, if it has changed."""
        draft, at_quality = self.state.draft, bool(grade_words(self.state))
        wanted = (self.state.cursor.station, at_quality, draft.r1, draft.r2, self.canvas.size)
        if wanted == self._below_of:
            return
        if self._below_of[:1] != wanted[:1]:
            self._below = ()
        self._below_of = wanted
        if self._below_timer:
            self._below_timer.stop()
        self._below_timer = after(self, REST_S, self._draw_below)

    def _draw_below(self) -> None:
        width, height = self.canvas.size
        self._below = resting_rows(self._view(width), width, height, self._drawn)
        self.repaint()

    def _drawn(self, width: int, height: int) -> Sequence[str]:
        """Draw the station's trend."""
        from ...plot.inline import draw_inline

        station, day = self.state.station, self._opened.session.when.date()
        events = standing(self._chart.events)
        touching = events_touching(events, station.muscle.id, (station.side,))
        done = [event for event in touching if event.day <= day]
        return draw_inline(self._series(), done, width, height)

    def _tick_if_running(self) -> None:
        """The stopwatch shows its seconds; nothing ticks when it is still."""
        running = self.state.clonus_from is not None
        if running and self._stopwatch is None:
            self._stopwatch = self.set_interval(1.0, self.repaint)
        elif not running and self._stopwatch is not None:
            self._stopwatch.stop()
            self._stopwatch = None

    def _turn_figure(self) -> None:
        """Show the tens of the gaps on the body chart, or the states again."""
        self._gaps = not self._gaps
        self.repaint()

    # Other screens ------------------------------------------------------------------------

    def _trend_large(self) -> None:
        if self.state.plan.blind:
            self.say(TREND_HIDDEN)
            return
        station = self.state.station
        start = (station.muscle.id, station.side)
        self.context.navigator.show_chart(self, self._chart.id, start)

    def _pace(self) -> None:
        self.context.navigator.show_pace(self, self.state, self._chart.patient, self._paced)

    def _paced(self, speed: int | None) -> None:
        if speed is None:
            return
        state, effects = keep_speed(self.state, speed)
        if self._perform(effects):
            self.state = state
        self.repaint()

    def _swap(self) -> None:
        """Exchange the sides: in a session that is still open, one station at a time."""
        key = self.context.keymap.name("entry.i")
        self.say(f"all of it is exchanged when a closed session is amended; {key} moves a station")

    def _review(self) -> None:
        if self.state.clonus_from is not None:
            self.say(stopwatch_runs(self.state))
            return
        code, session = self._chart.patient.code, self._opened.session
        closing = Closing(self._chart.next_number, self._clear, self._sign)
        self.context.navigator.show_review(self, self.state, session, code, closing, self._reviewed)

    def _reviewed(self, answer: int | str | None) -> None:
        if isinstance(answer, int):
            state = replace(free(self.state), asides=(), finished=None, message="")
            self.state = replace(state, cursor=cursor_to(state, answer), mode=Mode.FIELDS)
            self.repaint()
        elif answer == "closed":
            self.dismiss("closed")

    def _clear(self) -> tuple[EntryState, str]:
        """Clear the half-typed stations, one line of the journal each."""
        for index in half_typed(self.state):
            state, effects = cleared(self.state, index)
            if not self._perform(effects):
                return self.state, self.state.message
            self.state = state
        return self.state, ""

    def _sign(self, author: str) -> ShelfError | None:
        """Sign and store the session; what went wrong, None when nothing did."""
        session = replace(self._opened.session, readings=session_readings(self.state))
        try:
            stored = self._opened.close(session, author, self.context.wall())
        except ShelfError as error:
            return error
        number = self._chart.next_number
        # Written once more after the disk had not confirmed it, it is as it was signed first.
        author = stored.seal.author if stored.seal else author
        self.signed = Signed(session.id, f"session {number} signed by {author}")
        return None

    def on_unmount(self) -> None:
        """However the program ends, as long as it does so in order, others find no holder."""
        self._opened.leave()

    def put_away(self) -> str:
        """Leave the session open; every accepted field is in its journal."""
        self._opened.leave()
        half = self.state.cursor.text or self.state.prompt or self.state.clonus_from is not None
        return "what was half-typed in a field of the entry" if half else ""

    def leave(self) -> None:
        """Leave; only digits that were not accepted would be lost, so only they ask."""
        if self.state.cursor.text and not self._leaving:
            self._leaving = True
            self.say(f"{self.state.cursor.text} is not accepted yet: the same key again leaves")
            return
        self._opened.leave()
        self.dismiss(None)
