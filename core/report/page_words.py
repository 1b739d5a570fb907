"""The longer lines of a page: treatment dates, what was not alike, what was left open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime

from ..change.comparability import Difference
from ..change.compare import Comparison
from ..chart.amendment import withdrawn_readings
from ..chart.chain import Chain
from ..chart.checklist import stations_of
from ..chart.event import Event
from ..chart.events import NEXT_DATE, TOXIN, day_of, kind_words, quantity_words, standing
from ..chart.goals import Goal, goals_by_day, goals_of, t_words, treatment_words
from ..chart.session import Session
from ..language import day_words, gettext, ngettext
from ..tardieu.reading import Side, StationKey
from ..tardieu.reading_words import reading_words
from .inputs import Inputs
from .page import sided

MOST_EVENTS = 4
"""Treatment dates named on a page; the full report has all."""

MOST_GOALS = 4
"""Goals that a page names; the rest is counted, and in the full report."""

FEW_GOALS = 2
"""Goals that a page with many rows names."""

MOST_GOAL_LETTERS = 100
"""Characters of a goal on a page."""

MOST_STATIONS = 3
"""From so many stations on they are counted, not named."""


def moment(text: str) -> str:
    """Write a time with its offset; one that is not a time is shown as stored."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return text
    return f"{day_words(when)} {when:%H:%M} UTC{when.isoformat()[19:]}"


def treatments(
    events: Iterable[Event], session: Session, names: Mapping[str, str]
) -> Iterator[str]:
    """Say what was done up to a session, the latest first, each date with its days."""
    now = session.when.date()
    groups: dict[tuple[date, str], list[Event]] = {}
    for event in standing(events):
        day = day_of(event)
        if day and day <= now and event.kind != NEXT_DATE:
            groups.setdefault((day, event.kind), []).append(event)
    latest = sorted(groups.items(), key=lambda group: group[0][0], reverse=True)
    said: list[str] = []
    for (day, kind), found in latest[:MOST_EVENTS]:
        days = (now - day).days
        since = _since(days, kind)
        # What was given is named once, for the latest: the full report has it for every one.
        where = _where(found, names, given=not said)
        said.append(f"{kind_words(kind)} {day_words(day)} ({since}){where}")
    if said:
        more = len(latest) - MOST_EVENTS
        earlier = ngettext("{count} earlier", "{count} earlier", more).format(count=more)
        rest = f"; {earlier}" if more > 0 else ""
        text = "; ".join(said)
        yield f"{text[0].upper()}{text[1:]}{rest}."


def _since(days: int, kind: str) -> str:
    if not days:
        return gettext("on that day")
    words = gettext("toxin day {days}") if kind == TOXIN else gettext("day {days}")
    return words.format(days=days)


def _where(events: Iterable[Event], names: Mapping[str, str], given: bool) -> str:
    text = sided(
        (
            names.get(one.muscle, one.muscle),
            f"{gettext(one.side.capitalize())} {quantity_words(one) if given else ''}".strip(),
        )
        for one in events
    )
    return f": {text}" if text else ""


def goal_lines(events: Iterable[Event], day: date, most: int = MOST_GOALS) -> Iterator[str]:
    """Name the goals of the latest treatment that has any, as they stand on a day.

    On the day of that treatment itself the goals of the one before are still told: they are
    what is looked at then.

    Args:
        events: of the chart.
        day: of the session.
        most: goals that are named.
    """
    found = goals_by_day(g for g in goals_of(events, day) if g.day and g.day <= day)
    latest = list(found)[-2:] if day in found else list(found)[-1:]
    for when in latest:
        yield from _goals(found[when], most // len(latest))


def _goals(goals: Sequence[Goal], most: int) -> Iterator[str]:
    for goal in goals[:most]:
        title = goal.title
        if len(title) > MOST_GOAL_LETTERS:
            title = f"{title[: MOST_GOAL_LETTERS - 3].rstrip()}..."
        if goal.attained:
            yield gettext("GOAL {goal}: attained {level}.").format(goal=title, level=goal.attained)
        else:
            yield gettext("GOAL {goal}: not scored yet.").format(goal=title)
    said: list[str] = []
    if score := t_words(goals):
        whole = gettext("{score}, {treatment}; 50 is the expected level.")
        said.append(whole.format(score=score, treatment=treatment_words(goals[0].day)))
    if (more := len(goals) - most) > 0:
        rest = ngettext(
            "{count} more goal in the full report.", "{count} more goals in the full report.", more
        )
        said.append(rest.format(count=more))
    if said:
        yield " ".join(said)


def differing(comparison: Comparison) -> str:
    """Say what was not alike between the sessions, and at which stations or how many more."""
    said = [one.words for one in comparison.differences if one.id != "recorder"]
    own: dict[str, list[tuple[str, Difference]]] = {}
    for row in comparison.rows:
        if row.before and row.after:
            for one in row.differences:
                own.setdefault(one.what, []).append((f"{row.name} {row.side.word}", one))
    for what, found in own.items():
        named = f" {gettext('and')} ".join(where for where, _ in found)
        if len(found) >= MOST_STATIONS:
            stations = ngettext("{count} station", "{count} stations", len(found))
            named = stations.format(count=len(found))
        words = gettext("{what} at {where}").format(what=gettext(what), where=named)
        said.append(found[0][1].words_of(words) if len(found) == 1 else words)
    if not said:
        return gettext("Conditions on record are alike.")
    return gettext("Not alike: {what}.").format(what="; ".join(said))


def disputed(making: Inputs) -> Iterator[str]:
    """Name the stations about which amendments disagree, now and before, and what each says."""
    chart, comparison = making.chart, making.comparison
    then = chart.chain(comparison.before.id) if comparison else None
    chains = (making.chain, then) if then else (making.chain,)
    found = [(chain, station) for chain in chains for station in chain.disputed(chain.tips)]
    said = [_dispute(chain, station, making.names) for chain, station in found[:MOST_STATIONS]]
    if (more := len(found) - MOST_STATIONS) > 0:
        words = ngettext("{count} more station", "{count} more stations", more)
        said.append(words.format(count=more))
    if said:
        yield gettext(
            "Amendments disagree; what held before them is shown, and no change is told: {where}."
        ).format(where="; ".join(said))


def _dispute(chain: Chain, station: StationKey, names: Mapping[str, str]) -> str:
    muscle, side, _ = station
    claims = (f"{c.amendment.author}: {reading_words(c.reading)}" for c in chain.claims(station))
    date = chain.session.date_words
    return f"{names.get(muscle, muscle)} {side.word}, {date} ({'; '.join(claims)})"


def withdrawn(chain: Chain, session: Session, names: Mapping[str, str]) -> Iterator[str]:
    """Name the stations whose reading an amendment took away."""
    gone = withdrawn_readings(chain.session, chain.amendments, session)
    if gone:
        named = (f"{names.get(r.muscle, r.muscle)} {r.side.word}" for r in gone)
        yield gettext("Withdrawn since it was signed: {where}.").format(where=", ".join(named))


def left_open(session: Session, names: Mapping[str, str]) -> Iterator[str]:
    """Name the stations of the checklist that nobody entered."""
    found = [f"{names.get(muscle, muscle)} {side.word}" for muscle, side in unread(session)]
    if found:
        yield gettext("Left open: {where}.").format(where=", ".join(found))


def unread(session: Session) -> list[tuple[str, Side]]:
    """List (muscle id, side) of each station of the checklist without a reading."""
    there = {(reading.muscle, reading.side) for reading in session.readings}
    stations = stations_of(session.checklist)
    return [(item.muscle, side) for item, side in stations if (item.muscle, side) not in there]
