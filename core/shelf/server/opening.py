"""Opens a shelf on a server."""

from __future__ import annotations

from pathlib import Path

from ...errors import reading
from ..files import Folder
from .address import ServerAddress
from .connection import Connection
from .migrations import require_current
from .outbox import Outbox, outbox_folder
from .rows_index import RowsIndex
from .store import ServerStore


def open_server(address: ServerAddress) -> tuple[Folder, RowsIndex, Outbox]:
    """The folder that stands for the shelf, its list of charts, and the journals of this machine.

    Raises:
        ShelfError: when the server cannot be reached, or there is no shelf of this version.
    """
    connection = Connection(address)
    with reading(f"The shelf {address}"):
        require_current(connection)
        store = ServerStore(connection)
        root = Folder(Path("/", address.mark), store=store)
        outbox = Outbox(root, store, store.courier, outbox_folder(address))
    return root, RowsIndex(connection), outbox
