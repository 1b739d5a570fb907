"""An amendment that is being typed: a journal like that of a session, under a name of its own.

So the line may drop while a closed session is corrected, and the correction goes on where it
was. Its header is the session with the checklist that is walked through, and under "amends"
the amendment's id and the documents it is made on.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..chart.amendment import Amendment
from ..chart.chart import readable
from ..chart.document import Contents, Json
from ..chart.ids import new_id
from ..chart.session import Session, session_to_doc
from ..errors import Damaged
from ..tardieu.reading import Reading, StationKey
from . import files
from .journal import decode_lines, encode_line
from .opened import JournalContext, Kept, OpenSession, header_of, repaired, set_aside

AMENDS = "amends"


class OpenAmendment(OpenSession):
    """An open amendment. Everything appended is on the disk, so it can be left at any time.

    Attributes:
        id: the amendment's id.
        made_on: hashes of the documents it is made on.
    """

    def __init__(self, context: JournalContext, session: Session, kept: Kept, amends: Json) -> None:
        super().__init__(context, session, kept)
        self.id = str(amends["id"])
        self.made_on = tuple(str(name) for name in amends["made_on"])

    def save(
        self,
        author: str,
        reason: str,
        at: str,
        readings: tuple[Reading, ...],
        withdrawn: tuple[StationKey, ...],
    ) -> Amendment:
        """Sign the amendment, store it in the chart, remove the journal, release the chart.

        Raises:
            NotSaved: the amendment stays open and everything stays in its journal.
            ShelfError: when it does not fit what is in the chart; the same.
        """
        from .writing import keep_amendment

        self._require_open()
        amendment = Amendment(
            self.id, self.session.id, author, reason, at, readings, withdrawn, self.made_on
        )
        with self._into_chart("The amendment"):
            return keep_amendment(self._context.charts, self.chart_id, amendment)

    def drop(self) -> None:
        """Remove the journal and leave; for one to which nothing was added."""
        self._finish()


def start_amending(
    context: JournalContext, session: Session, made_on: Sequence[str]
) -> OpenAmendment:
    """Write the journal's header and open the amendment; see Shelf.open_amendment."""
    amends: Json = {"id": new_id(), "made_on": list(made_on)}
    line, _ = encode_line({**session_to_doc(session), AMENDS: amends}, 0, context.chart_id)
    files.replace(context.journals, context.name, line)
    return OpenAmendment(context, session, Kept(line), amends)


def go_on_amending(context: JournalContext, chart: Contents) -> OpenAmendment | None:
    """The amendment that was begun in a chart, None when there is none or it was saved.

    Raises:
        Damaged: when not even the journal's header is readable; it was set aside.
    """
    data = files.read_if_there(context.journals, context.name)
    if data is None:
        return None
    session = header_of(data, context.chart_id)
    lines = decode_lines(data, context.chart_id)
    amends: Json = lines.entries[0].get(AMENDS, {}) if lines.entries else {}
    if session is None or not amends:
        new = set_aside(context.journals, context.name)
        raise Damaged(
            "The journal of the amendment that was begun is damaged from its first line on: it "
            f"was set aside as journals/discarded/{new} and nothing was deleted, begin anew"
        )
    ids, _ = readable(chart, "amendments", lambda body: body["id"])
    if amends["id"] in ids:  # saved; only its journal was left over
        files.remove(context.journals, context.name)
        return None
    return OpenAmendment(context, session, repaired(context, data), amends)
