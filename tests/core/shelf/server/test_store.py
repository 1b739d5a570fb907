"""A shelf in PostgreSQL, by a server of our own."""

from __future__ import annotations

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress

from tests.support.records import patient

pytestmark = pytest.mark.tools


def test_a_chart_is_made_and_found(server_shelf: ServerAddress):
    shelf = Shelf(server_shelf)
    made = shelf.create(patient("INV-01"))
    assert Shelf(server_shelf).find("INV-01") == made
    assert verify(server_shelf) == ()
