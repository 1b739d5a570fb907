"""From a patient to the entry of a session: make sure who it is, then resume or set up."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from textual.app import App

from ..core.chart.chart import UNREADABLE, Chart
from ..core.chart.session import Session
from ..core.errors import ChartLocked, Holder, ShelfError
from ..core.shelf import OpenSession
from .kit.context import Context
from .kit.form import Form

NOT_STARTED = (
    "No session was started: the patient's part of this chart is damaged. "
    "Restore the chart from a backup first; limbscribe verify tells more."
)


class Caller(Protocol):
    """A screen that sessions are begun from."""

    @property
    def owner(self) -> App[int]:
        """The app the screen belongs to."""
        ...

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""
        ...


def begin_session(
    screen: Caller, context: Context, chart_id: str, on_done: Callable[[], None]
) -> None:
    """Ask for the ending of the patient's code, then resume the open session or set up a new one.

    Args:
        screen: where the question comes from; it is told what went wrong.
        context: what every screen is handed.
        chart_id: the chart.
        on_done: called when the entry or the set-up was left, or neither could be opened.
    """
    from .screens.guard.screen import WhoScreen
    from .screens.guard.who import who_of

    try:
        chart = context.shelf.load(chart_id)
        open_here = context.shelf.has_open(chart_id)
        entry = next((entry for entry in context.shelf.charts() if entry.id == chart_id), None)
    except ShelfError as error:
        on_done()
        screen.say(str(error))
        return
    if chart.patient == UNREADABLE and not open_here:
        screen.say(NOT_STARTED)
        return
    asking = WhoScreen(context, who_of(chart, entry))

    def answered(sure: bool | None) -> None:
        if sure:
            _go_on(screen, context, chart_id, on_done)
        else:
            on_done()

    screen.owner.push_screen(asking, answered)


def _go_on(screen: Caller, context: Context, chart_id: str, on_done: Callable[[], None]) -> None:
    """Begin, now that it is known to be the right patient."""
    try:
        chart = context.shelf.load(chart_id)
        if context.shelf.has_open(chart_id):
            opened = context.shelf.resume(chart_id, _recorder_of(context, chart_id))
            _open_entry(screen, context, chart, opened, on_done)
            return
    except ChartLocked as error:
        _read_only(screen, context, chart_id, error.holder, on_done)
        return
    except ShelfError as error:
        on_done()
        screen.say(str(error))
        return
    if chart.patient == UNREADABLE:
        screen.say(NOT_STARTED)
        return
    _set_up(screen, context, chart, on_done)


def _read_only(
    screen: Caller, context: Context, chart_id: str, holder: Holder, on_done: Callable[[], None]
) -> None:
    """Say who has the chart open, and show it as last saved, the open session first."""
    from ..core.shelf.held import held_words
    from .screens.chart.screen import ChartScreen

    chart = screen if isinstance(screen, ChartScreen) else ChartScreen(context, chart_id)
    chart.show_open(f"{held_words(holder, context.clock())}: nothing was changed.")
    if chart is not screen:
        screen.owner.push_screen(chart, lambda _: on_done())


def _recorder_of(context: Context, chart_id: str) -> str:
    """Who recorded the open session, so that others are told whose it is."""
    listed = (entry for entry in context.shelf.charts() if entry.id == chart_id)
    return next((entry.open_recorder for entry in listed), "")


def _set_up(
    screen: Caller,
    context: Context,
    chart: Chart,
    on_done: Callable[[], None],
    form: Form | None = None,
    message: str = "",
) -> None:
    """Ask how the session goes; a session that cannot be started keeps what was typed."""
    from .screens.setup.screen import SetupScreen

    setup = SetupScreen(context, chart, form, message)

    def answered(session: Session | None) -> None:
        if session is None:
            on_done()
            return
        try:
            opened = context.shelf.start(chart.id, session, session.recorder)
        except ShelfError as error:
            _set_up(screen, context, chart, on_done, setup.form, str(error))
            return
        _open_entry(screen, context, chart, opened, on_done)

    screen.owner.push_screen(setup, answered)


def _open_entry(
    screen: Caller, context: Context, chart: Chart, opened: OpenSession, on_done: Callable[[], None]
) -> None:
    unknown = sorted(
        {item.muscle for item in opened.session.checklist.items} - context.catalogue.muscles.keys()
    )
    if unknown:
        opened.leave()
        on_done()
        screen.say(
            f"The session of {chart.patient.code} was not opened: its checklist names "
            f"{', '.join(unknown)}, and no such muscle group exists. Nothing is lost; "
            "put the muscle group back into the configuration."
        )
        return
    from .screens.entry.screen import EntryScreen

    try:
        entry = EntryScreen(context, chart, opened)
    except BaseException:
        opened.leave()
        raise
    screen.owner.push_screen(entry, lambda _: on_done())
