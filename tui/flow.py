"""From screen to screen: what the screens ask for, and the way into a session."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from ..core.chart.chart import UNREADABLE, Chart
from ..core.chart.session import Session
from ..core.errors import ChartLocked, Holder, ShelfError
from ..core.problem import Problem
from ..core.shelf import OpenSession
from .kit.context import Caller, Closing, OnLeft, R, attempt
from .kit.form import FormState
from .terminal.output import version

if TYPE_CHECKING:
    from textual.screen import Screen

    from ..core.chart.patient import Patient
    from ..core.config.catalogue import Catalogue
    from ..core.entry.amending import Place
    from ..core.entry.state import EntryState
    from ..core.tardieu.reading import Side

NOT_STARTED = (
    "No session was started: the patient's part of this chart is damaged. "
    "Restore the chart from a backup first; limbscribe verify says more."
)


NOT_CHANGED = (
    "The patient's part of this chart is damaged: nothing was changed. "
    "Restore the chart from a backup first; limbscribe verify says more."
)


GONE = "this session is not in the chart any more"


class Flow:
    """The ways from screen to screen; each is imported when it is first shown."""

    def begin_session(
        self, caller: Caller, chart_id: str, on_done: OnLeft, sure: bool = False
    ) -> None:
        """Ask for the ending of the code, then resume the open session or set up a new one.

        It is not asked for when that is ``sure``. ``on_done`` is called with what
        was signed, or with None when entry or set-up were left or could not be opened.
        """
        from .screens.guard.screen import WhoScreen
        from .screens.guard.who import who_of

        try:
            chart = caller.context.shelf.load(chart_id)
            begun = caller.context.shelf.begun(chart_id)
        except ShelfError as error:
            on_done(None)
            caller.say(str(error))
            return
        if chart.patient == UNREADABLE and begun is None:
            caller.say(NOT_STARTED)
            return
        if sure and begun is None:
            _go_on(caller, chart_id, on_done)
            return
        asking = WhoScreen(caller.context, who_of(chart, begun))

        def answered(sure: bool | None) -> None:
            if sure:
                _go_on(caller, chart_id, on_done)
            else:
                on_done(None)

        caller.owner.push_screen(asking, answered)

    def begin_amendment(
        self,
        caller: Caller,
        chart_id: str,
        session_id: str,
        on_done: Callable[[str], None],
        at: Place | None = None,
    ) -> None:
        """Open the entry of a closed session's readings, or the amendment begun before."""
        from .screens.amend.screen import begin_amendment

        begin_amendment(caller, chart_id, session_id, on_done, at)

    def show_chart(
        self, caller: Caller, chart_id: str, start: tuple[str, Side] | None = None
    ) -> None:
        """Show a chart."""
        from .screens.chart.screen import ChartScreen

        caller.owner.push_screen(ChartScreen(caller.context, chart_id, start))

    def show_comparison(self, caller: Caller, chart_id: str, chosen: int | None) -> None:
        """Compare two sessions of a chart."""
        from ..core.change.compare import basis_of
        from .screens.compare.screen import CompareScreen
        from .screens.compare.state import compare_data

        def screen(chart: Chart) -> CompareScreen | str:
            data = compare_data(chart, basis_of(caller.context.catalogue))
            return data if isinstance(data, str) else CompareScreen(caller.context, data, chosen)

        _show_of(caller, chart_id, screen)

    def show_events(self, caller: Caller, chart_id: str, on_done: Callable[[], None]) -> None:
        """Show the treatment dates of a chart."""
        from .screens.events.screen import EventsScreen

        if screen := attempt(caller, lambda: EventsScreen(caller.context, chart_id)):
            caller.owner.push_screen(screen, lambda _: on_done())

    def show_details(self, caller: Caller, chart_id: str, on_done: Callable[[str], None]) -> None:
        """Show the patient's details to be changed."""
        from .screens.details.screen import DetailsForm

        def form(chart: Chart) -> DetailsForm | str:
            unreadable = chart.patient == UNREADABLE
            return NOT_CHANGED if unreadable else DetailsForm(caller.context, chart)

        _show_of(caller, chart_id, form, lambda message: on_done(message or ""))

    def show_withdrawal(
        self, caller: Caller, chart_id: str, session_id: str, on_done: Callable[[str], None]
    ) -> None:
        """Ask why a session is withdrawn, or where it is moved to."""
        from .screens.withdraw.screen import WithdrawForm

        def form(chart: Chart) -> WithdrawForm | str:
            session = _standing(chart, session_id)
            gone = f"{GONE}: nothing was changed"
            return WithdrawForm(caller.context, chart, session) if session else gone

        _show_of(caller, chart_id, form, lambda message: on_done(message or ""))

    def show_report(self, caller: Caller, chart_id: str, session_id: str) -> None:
        """Show the report of a session."""
        from ..core.change.compare import basis_of
        from ..core.report.choosing import choose_session
        from ..core.report.model_build import make_report
        from ..core.report.page_build import make_page
        from .screens.report.screen import ReportScreen

        def screen(chart: Chart) -> ReportScreen | str:
            session = _standing(chart, session_id)
            if session_id and session is None:
                return f"{GONE}: there is no report of it"
            found = session or choose_session(chart)
            if isinstance(found, Problem):
                return f"{found.what}: {found.mend}"
            catalogue = caller.context.catalogue
            given = (chart, found, basis_of(catalogue), version())
            page = make_page(*given, language=catalogue.settings.language)
            return ReportScreen(caller.context, page, lambda: make_report(*given))

        _show_of(caller, chart_id, screen)

    def show_checklists(self, caller: Caller, use: Callable[[Catalogue], None]) -> None:
        """Show the clinic's checklists."""
        from .screens.lists.screen import ListsScreen

        caller.owner.push_screen(ListsScreen(caller.context, use))

    def show_help(self, caller: Caller, name: str, about: Sequence[str]) -> None:
        """Show the help of a screen."""
        from .kit.help import HelpScreen

        caller.owner.push_screen(HelpScreen(caller.context, name, about))

    def show_caseload(self, caller: Caller) -> None:
        """Show many patients at once."""
        from .screens.caseload.screen import CaseloadScreen

        if screen := attempt(caller, lambda: CaseloadScreen(caller.context)):
            caller.owner.push_screen(screen)

    def show_raters(self, caller: Caller, use: Callable[[Catalogue], None]) -> None:
        """Show how far the clinic's raters agree."""
        from .screens.raters.screen import RatersScreen

        caller.owner.push_screen(RatersScreen(caller.context, use))

    def show_pace(
        self,
        caller: Caller,
        state: EntryState,
        patient: Patient,
        on_done: Callable[[int | None], None],
    ) -> None:
        """Show cues and timing at a station."""
        from .screens.pace.screen import PaceScreen

        caller.owner.push_screen(PaceScreen(caller.context, state, patient), on_done)

    def show_review(
        self,
        caller: Caller,
        state: EntryState,
        session: Session,
        code: str,
        closing: Closing,
        on_done: Callable[[int | str | None], None],
    ) -> None:
        """Show every station before the session is closed."""
        from .screens.review.screen import ReviewScreen

        review = ReviewScreen(caller.context, state, session, code, closing)
        caller.owner.push_screen(review, on_done)


def _standing(chart: Chart, session_id: str) -> Session | None:
    """The session as its amendments leave it, None when it no longer counts."""
    return next((session for session in chart.by_date if session.id == session_id), None)


def _show_of(
    caller: Caller,
    chart_id: str,
    make: Callable[[Chart], Screen[R] | str],
    on_done: Callable[[R | None], None] | None = None,
) -> None:
    """Show the screen that is made of a chart, or say why there is none."""
    chart = attempt(caller, lambda: caller.context.shelf.load(chart_id))
    if chart is None:
        return
    made = make(chart)
    if isinstance(made, str):
        caller.say(made)
    else:
        caller.owner.push_screen(made, on_done)


def _go_on(screen: Caller, chart_id: str, on_done: OnLeft) -> None:
    """Begin, now that it is known to be the right patient."""
    try:
        chart = screen.context.shelf.load(chart_id)
        if begun := screen.context.shelf.begun(chart_id):
            opened = screen.context.shelf.resume(chart_id, begun[1])  # others see whose it is
            _open_entry(screen, chart, opened, on_done)
            return
    except ChartLocked as error:
        _read_only(screen, chart_id, error.holder, on_done)
        return
    except ShelfError as error:
        on_done(None)
        screen.say(str(error))
        return
    if chart.patient == UNREADABLE:
        screen.say(NOT_STARTED)
        return
    _set_up(screen, chart, on_done)


def _read_only(screen: Caller, chart_id: str, holder: Holder, on_done: OnLeft) -> None:
    """Say who has the chart open, and show it as last saved, the open session first."""
    from ..core.shelf.held import held_words
    from .screens.chart.screen import ChartScreen

    chart = screen if isinstance(screen, ChartScreen) else ChartScreen(screen.context, chart_id)
    chart.show_open(f"{held_words(holder, screen.context.clock())}: nothing was changed.")
    if chart is not screen:
        screen.owner.push_screen(chart, lambda _: on_done(None))


def _set_up(
    screen: Caller, chart: Chart, on_done: OnLeft, form: FormState | None = None, message: str = ""
) -> None:
    """Ask how the session goes; a session that cannot be started keeps what was typed."""
    from .screens.setup.screen import SetupScreen

    setup = SetupScreen(screen.context, chart, form, message)

    def answered(session: Session | None) -> None:
        if session is None:
            on_done(None)
            return
        try:
            opened = screen.context.shelf.start(chart.id, session, session.recorder)
        except ShelfError as error:
            _set_up(screen, chart, on_done, setup.form, str(error))
            return
        _open_entry(screen, chart, opened, on_done)

    screen.owner.push_screen(setup, answered)


def _open_entry(screen: Caller, chart: Chart, opened: OpenSession, on_done: OnLeft) -> None:
    if unknown := opened.session.checklist.unknown(screen.context.catalogue.muscles):
        opened.leave()
        on_done(None)
        screen.say(
            f"The session of {chart.patient.code} was not opened: its checklist names "
            f"{', '.join(unknown)}, and no such muscle group exists. Nothing is lost; "
            "put the muscle group back into the configuration."
        )
        return
    if not opened.session.left_open(screen.context.clock().date()):
        _show_entry(screen, chart, opened, on_done)
        return
    from .screens.guard.screen import ResumeScreen

    def answered(sure: bool | None) -> None:
        if sure:
            _show_entry(screen, chart, opened, on_done)
        else:
            on_done(None)

    screen.owner.push_screen(ResumeScreen(screen.context, chart.patient.code, opened), answered)


def _show_entry(screen: Caller, chart: Chart, opened: OpenSession, on_done: OnLeft) -> None:
    from .screens.entry.screen import EntryScreen

    try:
        entry = EntryScreen(screen.context, chart, opened)
    except BaseException:
        opened.leave()
        raise
    screen.owner.push_screen(entry, lambda _: on_done(entry.signed))
