"""``limbscribe enter CODE --plain``: the entry as question and answer lines.

For dumb terminals, screen readers and scripts: nothing is drawn, moved or coloured. The
reducer, the checks, the journal and the signing are those of the screen.
"""

from __future__ import annotations

import re
import secrets
import sys
import time
from argparse import Namespace
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import datetime

from ...core.chart.chart import Chart
from ...core.chart.lookalike import ending, retyped
from ...core.chart.session import Session
from ...core.chart.staff import parse_staff
from ...core.config.catalogue import Catalogue
from ...core.dates import stamp
from ...core.entry.as_saved import plan_of
from ...core.entry.closing import cleared, half_typed, overridden
from ...core.entry.linear import (
    answer_lines,
    help_lines,
    keys_of_line,
    question,
    refused_line,
    station_lines,
)
from ...core.entry.log import replay, save_to_doc
from ...core.entry.moving import cursor_to
from ...core.entry.question import Question
from ...core.entry.questions import WHEN
from ...core.entry.readings import reading_of, session_readings
from ...core.entry.rows import count, entry_rows, number_text, r1_text
from ...core.entry.setup import Setup, session_of, setup_of
from ...core.entry.state import (
    SLOW_ENOUGH_S,
    Effect,
    EntryState,
    Mode,
    Moment,
    Rhythm,
    Save,
)
from ...core.entry.step import step
from ...core.entry.stopping import free
from ...core.errors import NotSaved, ShelfError
from ...core.problem import Problem
from ...core.shelf import OpenSession, Shelf
from ...core.shelf.held import begun_words, taken_over_words
from ...core.tardieu.cautions import CAUTIONS, NOTICE
from ..terminal.output import DATA, OK, USAGE
from .charts import ascii_wanted, catalogue, chart_of, code_from, existing_place, open_shelf
from .line_dialog import Left, LineDialog
from .stop import Stop

YES = ("y", "yes")
REST = "="
"""The answer that takes this question and the rest as they are offered."""

_BEFORE_TIME = re.compile(r"[T ](?=[0-9:]+$)")


def run(args: Namespace) -> int:
    """Enter a session in lines; exit code 1 when it could not be begun or closed."""
    code = code_from(args.code)
    shelf = open_shelf(existing_place(args))
    found = catalogue()
    chart = chart_of(shelf, code)
    lines = LineDialog(ascii_wanted(args), found.settings.idle_minutes)
    on = _measured(args.on, setup_of(found, chart)) if args.on else {}
    if on and shelf.has_open(chart.id):
        what = f"{code} has an open session: nothing was begun. Close it first, without --on"
        raise Stop(DATA, what)
    try:
        _be_sure(lines, code)
        opened = _opened(lines, shelf, chart, found, on)
    except Left:
        lines.show(["nothing was begun"])
        return DATA
    return _LineEntry(lines, chart, opened, found).run()


def _measured(text: str, setup: Setup) -> dict[str, str]:
    """Read --on into the answers of the set-up that say when a session was measured."""
    day, *at = _BEFORE_TIME.split(text)
    on = {"date": day, "time": "".join(at)}
    asked = {question.name: question.value for question in setup.questions}
    problems = setup.problems({**asked, **on})
    for name in WHEN:
        if name in problems:
            wrong = problems[name]
            raise Stop(USAGE, f"--on {text}: {wrong.what} ({wrong.mend}); nothing was begun")
    return on


def _be_sure(lines: LineDialog, code: str) -> None:
    """Ask for the ending of the code once more: two patients' codes may differ by little."""
    question = f"{code}: type its last {len(ending(code))} characters: "
    lines.drop_ahead()
    while not retyped(code, typed := lines.ask(question)):
        lines.show([f"that is not the ending of {code}; end the input to leave"])
    lines.not_twice(typed)


def _opened(
    lines: LineDialog, shelf: Shelf, chart: Chart, found: Catalogue, on: dict[str, str]
) -> OpenSession:
    if shelf.has_open(chart.id):
        lines.show(["resuming the open session"])
        opened = shelf.resume(chart.id, "")
        if opened.taken_over_from:
            lines.show([taken_over_words(opened.taken_over_from, datetime.now())])
        _be_sure_of_day(lines, opened)
        return opened
    session = _set_up(lines, chart, found, on)
    return shelf.start(chart.id, session, session.recorder)


def _be_sure_of_day(lines: LineDialog, opened: OpenSession) -> None:
    """Say that a session was begun on another day; whoever sits at a terminal is asked as well.

    A script has its answers ready, and none of them would be this one.
    """
    today = datetime.now().date()
    if not opened.session.left_open(today):
        return
    lines.show(begun_words(opened.session, today))
    if not sys.stdin.isatty():
        return
    lines.drop_ahead()
    answer = ""
    try:
        while answer not in YES:
            answer = lines.ask("yes goes on with that day, q leaves it open: ").strip().lower()
            if answer == "q":
                raise Left
    except Left:
        opened.leave()
        lines.show(["it is open as it was"])
        raise


def _set_up(lines: LineDialog, chart: Chart, found: Catalogue, on: dict[str, str]) -> Session:
    """Ask what the set-up form asks, field by field, then the cautions.

    When it was measured is not asked: it is in ``on`` where the session is typed in later.
    """
    setup = setup_of(found, chart)
    values = {asked.name: asked.value for asked in setup.questions} | on
    as_what = "as last time; the dose, notes and illness stay empty" if setup.last else "as offered"
    lines.show([f"{REST} takes a question and the rest {as_what}"])
    rest = False
    lines.drop_ahead()
    for asked in setup.questions:
        if asked.name in WHEN or not setup.asks(asked.name, values):
            continue
        values[asked.name], rest = _answer(lines, setup, asked, values, rest)
        if asked.name == "checklist":
            values |= setup.ways(values["checklist"])
    session = session_of(values, found, chart, secrets.token_hex(8), stamp())
    if session.conditions.typed_later:
        lines.show([f"measured {session.date_words} {session.when:%H:%M}, typed later"])
        return session
    lines.show(["Check before the first fast stretch:"])
    lines.show(f"  {caution.check}" for caution in CAUTIONS)
    lines.show([NOTICE])
    lines.drop_ahead()
    while lines.ask("yes when each was checked: ").strip().lower() not in YES:
        pass
    conditions = replace(session.conditions, cautions_read=True)
    return replace(session, started=stamp(), conditions=conditions)


def _answer(
    lines: LineDialog, setup: Setup, asked: Question, values: dict[str, str], rest: bool
) -> tuple[str, bool]:
    """Ask one question until its answer can be taken; whether the rest goes as offered."""
    offered = values[asked.name]
    choices = ", ".join(id_ for id_, _ in asked.choices)
    words = f"{asked.label} ({choices})" if choices else asked.label
    typed = REST
    while True:
        if not rest:
            typed = lines.ask(f"{words} [{offered}]: " if offered else f"{words}: ").strip()
            rest = typed == REST
        answer = offered if rest or not typed else typed
        problem = setup.problems({**values, asked.name: answer}).get(asked.name)
        if asked.choices and answer not in dict(asked.choices) and (answer or asked.needed):
            lines.show([f"one of {choices}"])
        elif problem is None:
            if rest:
                lines.show([f"{asked.label}: {answer or 'empty'}"])
            return answer, rest
        else:
            lines.show([str(problem)])
        rest = False


class _LineEntry:
    """One session in lines."""

    def __init__(
        self, lines: LineDialog, chart: Chart, opened: OpenSession, found: Catalogue
    ) -> None:
        self._lines, self._opened = lines, opened
        session = opened.session
        self._error = found.settings.reading_error
        self._number = chart.next_number
        try:
            plan = plan_of(found, chart, session)
        except KeyError as missing:
            opened.leave()
            raise Stop(
                DATA,
                f"the session names {missing}, which is not a muscle group any more: nothing is "
                "lost, put it back into the configuration",
            ) from None
        self._state, problems = replay(plan, opened.entries)
        lines.show(str(problem) for problem in (*opened.problems, *problems))
        self._commands: dict[str, Callable[[], bool]] = {
            "?": self._help,
            "r": self._review,
            "s": self._close,
            "q": self._leave,
        }

    def run(self) -> int:
        """Ask and answer until the session is closed or left."""
        self._lines.show(["? lists the answers; q leaves, everything accepted is on disk"])
        shown = -1
        self._lines.drop_ahead()
        ticks = time.monotonic()  # an Enter that bounces is no answer to the first question
        self._state = replace(self._state, rhythm=Rhythm(ticks, ticks))
        try:
            while True:
                if self._state.cursor.station != shown:
                    self._lines.show(station_lines(self._state))
                    shown = self._state.cursor.station
                if self._answered(self._lines.ask(question(self._state))):
                    return OK
        except Left:
            self._opened.leave()
            self._lines.show(["left open; everything accepted is on disk"])
            return OK

    def _answered(self, line: str) -> bool:
        """Take one line; whether the session is over."""
        command = self._commands.get(line.strip())
        if command:
            return command()
        keys = keys_of_line(self._state, line)
        if isinstance(keys, Problem):
            self._lines.show([str(keys)])
            self._state = refused_line(self._state, line, keys, self._now())
            return False
        before = self._state
        for key in keys:
            if not self._take(key):
                return False
        self._lines.show(answer_lines(before, self._state, self._error))
        if late := self._opened.only_here:
            self._lines.show([f"the server does not answer: {late} fields are only here yet"])
        return False

    def _take(self, key: str) -> bool:
        """Take one key; as _kept()."""
        return self._kept(*step(self._state, key, self._now()))

    def _kept(self, state: EntryState, effects: Iterable[Effect]) -> bool:
        """Save what a step brought; False when that failed, and then nothing of it is kept."""
        for effect in effects:
            if isinstance(effect, Save):
                try:
                    self._opened.append(save_to_doc(effect, stamp()))
                except NotSaved as error:
                    self._lines.show([str(error)])
                    return False
        self._state = state
        return True

    def _now(self) -> Moment:
        """The time; a script types as fast as it likes, and none of its keys is a bounce."""
        ticks = time.monotonic()
        if not sys.stdin.isatty():
            ticks = max(ticks, self._state.rhythm.last + 2 * SLOW_ENOUGH_S)
        return Moment(ticks, stamp())

    def _help(self) -> bool:
        self._lines.show(help_lines(self._state))
        return False

    def _review(self) -> bool:
        if later := self._opened.session.conditions.typed_later_words:
            self._lines.show([f"measured {self._opened.session.date_words}, {later}"])
        self._lines.show(review_lines(self._state))
        return False

    def _close(self) -> bool:
        """Say what would be signed, and sign it with the initials given."""
        if not self._none_half_typed():
            return False
        self._lines.show(signing_lines(self._state))
        self._lines.drop_ahead()
        while answer := self._lines.ask("initials of who signs, an empty line goes back: ").strip():
            author = parse_staff(answer)
            if answer.lower() in YES:
                self._lines.show(["initials sign, not yes"])
            elif isinstance(author, Problem):
                self._lines.show([f"{author.what}: type {author.mend}"])
            else:
                return self._signed(author)
        self._lines.show(["not signed"])
        return False

    def _none_half_typed(self) -> bool:
        """Clear half-typed stations if that is wanted, else go to the first of them."""
        half = half_typed(self._state)
        if not half:
            return True
        names = "; ".join(self._state.plan.stations[index].name for index in half)
        self._lines.show([f"half-typed: {names}"])
        asked = "c clears them (the journal keeps what was accepted), an empty line goes there: "
        if self._lines.ask(asked).strip().lower() != "c":
            there = free(self._state)
            self._state = replace(there, cursor=cursor_to(there, half[0]), mode=Mode.FIELDS)
            return False
        return all(self._kept(*cleared(self._state, index)) for index in half)

    def _signed(self, author: str) -> bool:
        """Sign and store the session; False where it could not be stored, and stays open."""
        session = replace(self._opened.session, readings=session_readings(self._state))
        try:
            stored = self._opened.close(session, author, stamp())
        except ShelfError as error:
            self._lines.show([str(error), "s signs again; q leaves, and the session stays open"])
            return False
        author = stored.seal.author if stored.seal else author  # as it was signed first
        self._lines.show([f"session {self._number} signed by {author}"])
        return True

    def _leave(self) -> bool:
        raise Left


def signing_lines(state: EntryState) -> Iterator[str]:
    """Write what would be signed."""
    rows = entry_rows(state)
    counted = count(rows)
    yield (
        f"to be signed: {counted.done} done, {counted.not_tested} not tested, "
        f"{counted.flagged} flagged, {overridden(rows)} overridden"
    )
    if counted.open:
        open_ = f"{counted.open} open: they stay without values for good"
        yield f"{open_}; l and a reason marks them not tested"


def review_lines(state: EntryState) -> Iterable[str]:
    """Write every station so far, to be read aloud in the order in which it was typed."""
    for index, station in enumerate(state.plan.stations):
        draft, reading = state.drafts[index], reading_of(state, index)
        if draft.not_tested and reading.r2 is None:
            yield f"{station.name}: not tested, {draft.not_tested_note or draft.not_tested}"
        elif not draft.done:
            yield f"{station.name}: open"
        else:
            values = {
                "r1": f"R1 {r1_text(reading)}",
                "quality": f"quality {number_text(reading.quality)}",
                "r2": f"R2 {number_text(reading.r2)}",
            }
            flags = "".join(f"; {flag.text}" for flag in reading.flags)
            yield f"{station.name}: " + ", ".join(values[field] for field in state.fields) + flags
