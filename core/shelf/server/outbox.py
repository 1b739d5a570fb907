"""Journals of this machine: a field counts as stored once it is flushed here.

They are plain files of the recorder's account, below its state folder. Each line goes on to the
server at once (courier.py). What could not be sent is taken there by the next one who opens the
shelf from this account, or by ``limbscribe shelf deliver``: once, and only where the journal on
the server is the beginning of the one here. Where somebody else went on meanwhile, or the session
was closed, what is only here is kept on the server beside the shelf's other discarded journals.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from ...chart.ids import CHART_SUFFIX, JOURNAL_SUFFIX, journal_of
from ...errors import ChartLocked, NotSaved, ShelfError, reason
from ...text import counted
from .. import files
from ..files import Folder
from ..journal import Journal, decode_lines
from ..lock import HeldLock, held, take
from ..places import DISCARDED, aside_name
from ..tombstones import Graveyard, read_tombstones
from .address import ServerAddress
from .courier import Courier, Delivery
from .leases import TAKEN_OVER
from .store import ServerStore

_TREE = (("journals",), ("locks",))

_LEAVING_S = 1.0
"""How long somebody who leaves a session waits for what is still only here, s."""


def outbox_folder(address: ServerAddress) -> Path:
    """The folder of this account for the journals of one shelf."""
    from platformdirs import user_state_path

    return user_state_path("limbscribe") / "outbox" / address.mark


def waiting_for(address: ServerAddress) -> list[str]:
    """Names of the journals of this account that are not all on a server; nothing is changed."""
    folder = outbox_folder(address)
    return _names(Folder(folder).sub("journals")) if folder.is_dir() else []


def _names(journals: Folder) -> list[str]:
    return sorted(each.name for each in files.listing(journals, journal_of))


class SentJournal:
    """An open journal, flushed here and sent to the server; see Journal."""

    def __init__(self, outbox: Outbox, name: str, chart_id: str, sound: bytes) -> None:
        self._outbox = outbox
        self._name = name
        self._open = True
        self._here: HeldLock = take(outbox.root.sub("locks"), chart_id, "entry")
        try:
            files.replace(outbox.journals, name, sound)
            self._local = Journal(outbox.journals, name, chart_id, sound)
        except BaseException:
            self._here.release()
            raise
        number = len(decode_lines(sound, chart_id).entries)
        fence = outbox.store.leases.fence_of(chart_id)
        self._delivery = Delivery(name, chart_id, fence, number)
        outbox.courier.attach(self._delivery)

    @property
    def late(self) -> int:
        """How many lines are still only on this machine."""
        return self._delivery.late

    def append(self, entry: dict[str, Any]) -> bytes:
        """Add one line; on the disk of this machine when this returns.

        Raises:
            NotSaved: the line is not there, every line before it is; also where somebody else
                has taken the chart over.
        """
        if self._delivery.lost:
            raise NotSaved(
                f"The entry was not saved because {TAKEN_OVER}: what was accepted before is kept "
                "on this computer, leave the session, and see limbscribe shelf deliver"
            )
        line = self._local.append(entry)
        self._delivery.put(line)
        self._outbox.courier.wake()
        return line

    def settle(self) -> None:
        """Wait until everything is on the server; raises OSError when it is not."""
        if not self._delivery.wait(_LEAVING_S):
            why = TAKEN_OVER if self._delivery.lost else self._delivery.trouble
            raise OSError(0, why or "the server did not answer in time")

    def close(self) -> None:
        """Let go of it; what is on the server already is not kept here."""
        if self._open:
            sent = self._delivery.wait(_LEAVING_S) and not self._delivery.lost
            self._stop(forget=sent)
            if not (sent or self._delivery.lost):
                self._outbox.courier.left[self._name] = self._outbox.brought_in
                self._outbox.courier.wake()

    def finish(self) -> None:
        """Remove it here and there: all that it says is in the chart."""
        self._stop(forget=True)
        files.remove(self._outbox.shelf.sub("journals"), self._name)

    def _stop(self, forget: bool) -> None:
        self._open = False
        self._outbox.courier.detach(self._delivery)
        self._local.close()
        if forget:
            with suppress(OSError):
                files.remove(self._outbox.journals, self._name)
        self._here.release()


class Outbox:
    """The journals of this account for one shelf on a server.

    Attributes:
        root: the folder of what is of this account.
        journals: the folder of its journals.
        shelf: the shelf's own.
        store: the shelf's tables.
        courier: what sends.
        delivered: what was delivered unasked so far, as deliver() says it.
    """

    def __init__(self, shelf: Folder, store: ServerStore, courier: Courier, where: Path) -> None:
        self.root = Folder(where)
        self.journals = self.root.sub("journals")
        self.store = store
        self.courier = courier
        self.shelf = shelf
        self.delivered: list[tuple[str, str, bool]] = []
        files.make_tree(where, _TREE)

    def journal(self, name: str, chart_id: str, sound: bytes) -> SentJournal:
        """Open a journal that is on the server with these lines."""
        return SentJournal(self, name, chart_id, sound)

    def bring_in(self, name: str) -> str:
        """Take a journal that lies here to the server; the caller holds the chart's lock.

        Returns:
            What was done, "" when there was nothing to do.

        Raises:
            OSError: when it could not be done; the journal is still here.
        """
        chart = name[:32]
        data = files.read_if_there(self.journals, name)
        if data is None:
            return ""
        here = data[: decode_lines(data, chart).length]
        there = files.read_if_there(self.shelf.sub("journals"), name)
        goes_on = there is not None and here.startswith(there)
        known = goes_on or (there is not None and there.startswith(here))
        said = ""
        if here != data or not known:  # what is no sound line is kept too, as by repaired()
            aside = self._aside(chart, data)
            said = "" if known else aside
        if there is not None and goes_on and here != there:
            files.replace(self.shelf.sub("journals"), name, here)
            more = here[len(there) :].count(b"\n")
            said = f"delivered: {counted(more, 'field')}"
        files.remove(self.journals, name)
        return said

    def _aside(self, chart: str, data: bytes) -> str:
        if Graveyard(read_tombstones(self.shelf)).of_chart(chart):
            return "the patient was erased meanwhile, so what was here was erased too"
        if not files.exists(self.shelf.sub("charts"), chart + CHART_SUFFIX):
            raise OSError(0, "its chart is not on the server")
        name = aside_name(chart, JOURNAL_SUFFIX, data, self.shelf.codec)
        files.replace(self.shelf.at(("journals", DISCARDED)), name, data)
        return (
            "the session was closed or gone on with elsewhere meanwhile; what was here is kept "
            f"as journals/{DISCARDED}/{name}"
        )

    def under(self, former: ServerAddress) -> Outbox | None:
        """What waits here under another address of the same shelf, None when nothing does."""
        where = outbox_folder(former)
        return Outbox(self.shelf, self.store, self.courier, where) if where.is_dir() else None

    def deliver(self) -> Iterator[tuple[str, str, bool]]:
        """Take every journal that nobody is writing to the server.

        Yields:
            Chart id, what was done or why not, and whether it is done.
        """
        for name in _names(self.journals):
            chart = name[:32]
            try:
                yield chart, self._delivered(name) or "everything was there already", True
            except ChartLocked as error:
                yield chart, f"{error.holder} has the chart open for entry now", False
            except OSError as error:
                yield chart, f"not delivered because {reason(error)}", False
            except ShelfError as error:
                yield chart, str(error), False

    def _delivered(self, name: str) -> str:
        chart = name[:32]
        with held(self.root.sub("locks"), chart), held(self.shelf.sub("locks"), chart):
            return self.bring_in(name)

    def brought_in(self, name: str) -> bool:
        """Take a journal that nobody is writing to the server; whether it is done."""
        try:
            self._delivered(name)
        except (OSError, ShelfError):
            return False
        return True

    def deliver_quietly(self) -> None:
        """Deliver what can be; the next one who opens the shelf tries again."""
        with suppress(OSError, ShelfError):
            self.delivered += [done for done in self.deliver() if done[2]]
