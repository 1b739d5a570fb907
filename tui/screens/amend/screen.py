"""Correcting a closed session: the entry with its readings filled in, then author and reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ....core.chart.chain import CONFLICT, Chain
from ....core.chart.chart import Chart
from ....core.entry.amending import (
    Corrected,
    Place,
    amending_checklist,
    amendment_of,
    aside_of,
    begin_amending,
    changes,
)
from ....core.entry.as_saved import plan_of
from ....core.entry.log import replay
from ....core.entry.moving import stopwatch_runs
from ....core.entry.readings import reading_of
from ....core.entry.several import swap_sides
from ....core.errors import NotSaved, ShelfError
from ....core.shelf.opened_amendment import OpenAmendment
from ....core.tardieu.reading import Reading
from ...kit.context import Caller, Context
from ..entry.screen import EntryScreen
from .form import AmendForm

SWAP_REASON = "left and right were swapped"
"""Offered as the reason, to be kept or changed."""


def begin_amendment(
    screen: Caller,
    chart_id: str,
    session_id: str,
    on_done: Callable[[str], None],
    at: Place | None = None,
) -> None:
    """Open the entry of a closed session's readings, or the amendment that was begun before.

    Args:
        screen: where the question comes from; what went wrong is shown there.
        chart_id: the chart.
        session_id: the session to be corrected.
        on_done: called with a word on how it ended.
        at: the station to begin at; an amendment begun before goes on where it was left.
    """
    try:
        chart = screen.context.shelf.load(chart_id)
        chain = chart.chain(session_id)
        if chain is None:
            screen.say("this session is not in the chart any more: nothing was changed")
            return
        session = replace(chain.session, readings=_readings(chain, chain.tips))
        listed = replace(session, checklist=amending_checklist(session))
        if unknown := listed.checklist.unknown(screen.context.catalogue.muscles):
            screen.say(
                f"The amendment was not begun: {', '.join(unknown)} is no muscle group any more. "
                "Nothing is lost; put it back into the configuration."
            )
            return
        opened = screen.context.shelf.open_amendment(chart_id, listed, chain.tips)
    except ShelfError as error:
        screen.say(str(error))
        return
    _push(screen, chart, opened, session_id, on_done, at)


def _push(
    screen: Caller,
    chart: Chart,
    opened: OpenAmendment,
    wanted: str,
    on_done: Callable[[str], None],
    at: Place | None,
) -> None:
    try:
        chain = chart.chain(opened.session.id)
        if chain is None or not chain.states.keys() >= set(opened.made_on):
            opened.leave()
            screen.say(
                f"The amendment of {opened.session.date_words} that was begun cannot go on: what "
                "it was made on is damaged. It is kept; restore the chart from a backup first."
            )
            return
        other = opened.session.id != wanted
        at = None if other else at
        amend = AmendScreen(screen.context, chart, opened, chain, other, at)
    except BaseException:
        opened.leave()
        raise
    left = f"amendment not signed yet: {screen.context.keymap.name('chart.amend')} goes on with it"
    screen.owner.push_screen(amend, lambda answer: on_done(answer or left))


def _readings(chain: Chain, tips: tuple[str, ...]) -> tuple[Reading, ...]:
    """What an amendment made on some documents starts from, the conflict's own flag left out."""
    return tuple(
        replace(reading, flags=tuple(flag for flag in reading.flags if flag.rule != CONFLICT))
        for reading in chain.current(tips).readings
    )


class AmendScreen(EntryScreen):
    """The entry of a closed session's readings; ends with a word on what came of it.

    Args:
        context: the context.
        chart: the chart.
        opened: the amendment.
        chain: the documents of the session.
        other: it is not the session that was asked for, but one begun before.
        at: the station to begin at, None for the first.
    """

    def __init__(
        self,
        context: Context,
        chart: Chart,
        opened: OpenAmendment,
        chain: Chain,
        other: bool,
        at: Place | None = None,
    ) -> None:
        session = opened.session
        before = tuple(each for each in chart.sessions if each.when < session.when)
        super().__init__(context, replace(chart, sessions=before), opened)
        self._amendment = opened
        self._chain = chain
        self._now = chain.tips
        self._readings = _readings(chain, opened.made_on)
        plan = plan_of(context.catalogue, self._chart, session, context.keymap.names("entry"))
        aside = aside_of(replace(chain.session, readings=self._readings))
        # It is closed: whoever corrects it may see what was.
        plan = replace(plan, blind=False, aside=aside)
        self._first = begin_amending(plan, self._readings, at)
        self.state, problems = replay(plan, opened.entries, self._first)
        self._disputed = chain.disputed(opened.made_on) if len(opened.made_on) > 1 else ()
        people = (f"examiner {session.examiner}", f"recorder {session.recorder}")
        about = ("AMENDING the session of", session.date_words, *people)
        self._head = (chart.patient.code, *about)
        words = [str(problem) for problem in (*opened.problems, *problems)]
        self.state = replace(self.state, message="; ".join((*words, self._greeting(other))))

    def _greeting(self, other: bool) -> str:
        review = self.context.keymap.name("entry.review")
        if self._disputed:
            return (
                f"amendments disagree about {len(self._disputed)} of the stations, marked !: "
                f"enter what holds, {review} saves and settles it"
            )
        if other:
            return "this amendment was begun before and goes on; end it first"
        if self._amendment.entries:
            return "the amendment goes on where it was left"
        swap = self.context.keymap.name("entry.swap")
        return f"correct what is wrong, {swap} exchanges Left and Right; {review} asks for a reason"

    def _found(self) -> tuple[Corrected, ...]:
        return changes(self._first, self.state, self._readings, self._disputed)

    def _swap(self) -> None:
        """Exchange left and right of the whole session; the journal has it as one step."""
        state, effects = swap_sides(self.state, self._first)
        if self._perform(effects):
            self.state = state
        self._stored = ""
        self.repaint()

    def _review(self) -> None:
        """Show what was changed, and ask who says so and why."""
        found = self._found()
        if self.state.clonus_from is not None:
            self.say(stopwatch_runs(self.state))
        elif self.state.cursor.text:
            key = self.context.keymap.name("entry.enter")
            self.say(f"{self.state.cursor.text} is not accepted yet: {key} accepts it")
        elif not found:
            self.say("nothing is changed yet")
        elif twice := self._twice(found):
            self.say(f"{twice} would appear twice at one velocity: correct that first")
        else:
            names = {id_: muscle.name for id_, muscle in self.context.catalogue.muscles.items()}
            about = (self._chart.patient.code, self._amendment.session.date_words)
            swapped = sum(edit.swap for edit in self.state.past) % 2 == 1
            reason = SWAP_REASON if swapped else ""
            form = AmendForm(self.context, about, found, names, bool(self._disputed), reason)
            self.owner.push_screen(form, self._signed)

    def _twice(self, found: tuple[Corrected, ...]) -> str:
        """A changed station that another one equals, "" when there is none."""
        given = [
            reading_of(self.state, index).station
            for index, draft in enumerate(self.state.drafts)
            if draft.has_content
        ]
        for each in found:
            if each.new and given.count(each.new.station) > 1:
                return f"{each.new.muscle}, {each.new.side.word}"
        return ""

    def _signed(self, answer: tuple[str, str] | None) -> None:
        if answer is None:
            self.repaint()
            return
        readings, withdrawn = amendment_of(self._found())
        at = self.context.wall()
        try:
            self._amendment.save(*answer, at, readings, withdrawn)
        except NotSaved as error:
            self.say(str(error))
            return
        except ShelfError as error:
            self.say(f"{error}. What was typed is kept.")
            return
        words = "the amendment is saved and signed; the former values stay in sight"
        if set(self._now) != set(self._amendment.made_on):
            words = "saved, but another amendment was made meanwhile: both are kept, see below"
        self.dismiss(words)

    def leave(self) -> None:
        """Leave; an amendment that changes nothing is not kept."""
        half_typed = self.state.cursor.text and not self._leaving
        if self._found() or half_typed:
            super().leave()
            return
        self._amendment.drop()
        self.dismiss("nothing was changed")

    def put_away(self) -> str:
        """Leave the amendment begun; every accepted field is in its journal."""
        super().put_away()
        return "" if not self._found() else "author and reason of an amendment that was begun"
