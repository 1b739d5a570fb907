"""The tests of a shelf in a folder, run over shelves on a server, without a change to them.

``LIMBSCRIBE_TESTS_ON=server pytest FILES``: each folder that a test opens as a shelf stands for a
database of its own, made from a template. A folder that has a shelf already (a copy of the demo, or
one that the test has spoilt) is copied there by ``limbscribe shelf copy``'s own code. Encrypted
shelves stay in their folder. What cannot hold on a server is in ``not_on_server.py``.
"""

from __future__ import annotations

import os
import shutil
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.shelf import Shelf, places
from limbscribe.core.shelf.encryption.key import ShelfKey, is_encrypted
from limbscribe.core.shelf.files import Folder
from limbscribe.core.shelf.maintenance import verify
from limbscribe.core.shelf.maintenance.copying import copy_shelf
from limbscribe.core.shelf.places import Where
from limbscribe.core.shelf.server.address import ServerAddress, is_address
from limbscribe.core.shelf.server.connection import Connection
from limbscribe.core.shelf.server.opening import open_server
from limbscribe.core.shelf.server.outbox import outbox_folder
from limbscribe.core.shelf.server.store import ServerStore
from limbscribe.tui.cli import charts
from limbscribe.tui.cli import shelf as shelf_command

from .not_on_server import FORKED, HOLDS, NOT_ON_SERVER
from .postgres import Postgres
from .rows_as_files import pretend

ON_SERVER = os.environ.get("LIMBSCRIBE_TESTS_ON") == "server"
_MADE = Shelf.__init__
_WHERE = places.where_is
_ROOT = verify._root  # pyright: ignore[reportPrivateUsage]


_MOST = 20
"""Connections that are open at once: a test may open a shelf a hundred times."""

_EMPTY = "".join(
    f"DELETE FROM limbscribe.{table};"
    for table in ("charts", "journals", "locks", "folders", "files")
)


def database_of(address: ServerAddress) -> str:
    """The name of a database."""
    return address.url.rpartition("/")[2]


class Databases:
    """The databases that stand for folders."""

    def __init__(self, server: Postgres) -> None:
        self._server = server
        self._known: dict[Path, ServerAddress] = {}
        self._roots: dict[Path, Folder] = {}
        self._free: list[ServerAddress] = []
        self._connections: deque[Connection] = deque()

    def of(self, folder: Path) -> ServerAddress:
        """The shelf that stands for a folder, made when it is first asked for."""
        folder = folder.absolute()
        if folder not in self._known:
            address = self._free.pop() if self._free else self._server.shelf()
            if (folder / "charts").is_dir():
                with on_disk():
                    copy_shelf(Shelf(folder), Shelf(address))
            self._known[folder] = address
        return self._known[folder]

    def rooted(self, path: Path) -> tuple[Folder, tuple[str, ...]] | None:
        """The shelf that a path lies in, if it stands for rows; see rows_as_files.py."""
        path = path.absolute()
        folder = next((each for each in (path, *path.parents) if each in self._known), None)
        if folder is None:
            return None
        if folder not in self._roots:
            self._roots[folder] = open_server(self._known[folder])[0]
        return self._roots[folder], path.relative_to(folder).parts

    def connected(self, shelf: Shelf) -> None:
        """Let go of the connections of earlier shelves, which make new ones if need be."""
        store = shelf.root.store
        assert isinstance(store, ServerStore)
        self._connections.append(store.connection)
        while len(self._connections) > _MOST:
            self._connections.popleft().close()

    def empty(self, below: Path) -> None:
        """Empty those of folders below another one, for the next test: quicker than new ones."""
        for root in self._roots.values():
            assert isinstance(root.store, ServerStore)
            root.store.connection.close()
        self._roots = {}
        while self._connections:
            self._connections.popleft().close()
        for folder in [each for each in self._known if below in each.parents]:
            address = self._known.pop(folder)
            self._server.sql(_EMPTY, database_of(address))
            shutil.rmtree(outbox_folder(address), ignore_errors=True)
            self._free.append(address)

    def where(self, folder: Where) -> Where:
        """Where the shelf of a folder is: itself, while there is none or it is encrypted."""
        if not isinstance(folder, Path) or is_encrypted(folder):
            return folder
        there = folder.absolute() in self._known or (folder / "charts").is_dir()
        return self.of(folder) if there else folder


_databases: Databases | None = None


@contextmanager
def on_disk() -> Iterator[None]:
    """Within it folders are folders: for what is copied as files later on."""
    global _databases
    kept, _databases = _databases, None
    yield
    _databases = kept


def place_of(folder: Path) -> str:
    """What a process that a test starts is told of where a shelf is."""
    return str(_databases.of(folder) if _databases else folder)


def stands_for_rows(folder: Path) -> bool:
    """Whether a folder is none, but stands for a database."""
    return _databases is not None and _databases.rooted(folder) is not None


def _where_is(text: str) -> Where:
    if _databases is None:
        return _WHERE(text)
    return places.address_of(text) if is_address(text) else _databases.where(Path(text))


def _made(self: Shelf, where: Where, key: ShelfKey | None = None) -> None:
    if _databases and isinstance(where, Path) and key is None and not is_encrypted(where):
        _MADE(self, _databases.of(where))
        _databases.connected(self)
        self.folder = where.absolute()  # by which the test finds it again
    else:
        _MADE(self, where, key)


def _root(where: Where, key: ShelfKey | None) -> Any:
    return _ROOT(where if key or not _databases else _databases.where(where), key)


@pytest.fixture(scope="session", autouse=True)
def on_server(request: pytest.FixtureRequest) -> Iterator[None]:
    """Let folders stand for databases, where that is asked for."""
    global _databases
    if not ON_SERVER:
        yield
        return
    _databases = Databases(request.getfixturevalue("postgres"))
    with pytest.MonkeyPatch.context() as patch:
        state = request.getfixturevalue("tmp_path_factory").mktemp("state")
        patch.setenv("XDG_STATE_HOME", str(state))
        patch.setattr(Shelf, "__init__", _made)
        patch.setattr(verify, "_root", _root)
        for module in (places, charts, shelf_command):
            patch.setattr(module, "where_is", _where_is)
        pretend(patch, lambda path: _databases.rooted(path) if _databases else None)
        yield
    _databases = None


@pytest.fixture(autouse=True)
def emptied(on_server: None, tmp_path: Path) -> Iterator[None]:
    """Leave the test's databases to the next one."""
    yield
    if _databases:
        _databases.empty(tmp_path)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Expect those to fail that cannot hold on a server; one that holds all the same fails."""
    if not ON_SERVER:
        return
    for item in items:
        name = item.nodeid.partition("[")[0]
        why = NOT_ON_SERVER.get(name)
        if why and item.nodeid not in HOLDS:
            run = why != FORKED
            item.add_marker(pytest.mark.xfail(reason=why, strict=True, run=run))
