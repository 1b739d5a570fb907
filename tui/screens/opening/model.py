"""The list of patients as a value: what is listed, searched and selected.

Ten thousand patients are listed as fast as ten: nothing here makes rows, and a search is one
pass over the codes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ....core.shelf import ChartEntry
from ...kit.scroll import clamped
from ...kit.scroll import moved as row_moved

LONGEST_CODE = 24


@dataclass(frozen=True, slots=True)
class Listing:
    """The patients of the shelf.

    Attributes:
        entries: every patient, those with an open session first.
        query: letters that a code must contain to be listed, capitals.
        shown: the patients listed.
        at: index of the selected one among those listed, 0 when there is none.
        searching: letters typed go into the query.
        behind: characters of the query behind the cursor.
        widest: length of the longest code, characters.
        plain: the codes without - and _, once a search was begun.
    """

    entries: tuple[ChartEntry, ...] = ()
    query: str = ""
    shown: tuple[ChartEntry, ...] = ()
    at: int = 0
    searching: bool = False
    behind: int = 0
    widest: int = 4
    plain: tuple[str, ...] = ()

    @property
    def selected(self) -> ChartEntry | None:
        """The selected patient."""
        return self.shown[self.at] if self.shown else None

    @property
    def open_sessions(self) -> tuple[ChartEntry, ...]:
        """The patients with an open session: they come first."""
        count = next(
            (i for i, entry in enumerate(self.entries) if not entry.open_since), len(self.entries)
        )
        return self.entries[:count]


def with_entries(listing: Listing, entries: Sequence[ChartEntry], keep: str = "") -> Listing:
    """The listing after the shelf was read again, the same patient selected.

    Args:
        listing: as it was.
        entries: as the shelf gives them.
        keep: id of the chart to select, "" for the one that is selected.
    """
    wanted = keep or (listing.selected.id if listing.selected else "")
    new = replace(
        listing,
        entries=tuple(entries),
        widest=max([len(entry.code) for entry in entries], default=4),
        plain=(),
    )
    new = _narrowed(new, listing.query, wanted)
    if keep and (new.selected is None or new.selected.id != keep):
        return _narrowed(new, "", keep)
    return new


def with_query(listing: Listing, query: str) -> Listing:
    """Only codes that contain the letters; the first that starts with them is selected."""
    query = query.upper()
    listing = _with_plain(listing)
    places = _places(listing, query)
    letters, plain, entries = _plain(query), listing.plain, listing.entries
    at = next((n for n, i in enumerate(places) if plain[i].startswith(letters)), 0)
    shown = tuple([entries[i] for i in places])
    return replace(listing, query=query, shown=shown, at=at, behind=0)


def begun_search(listing: Listing) -> Listing:
    """Every patient listed, and letters are taken for the search; the codes are made ready."""
    return replace(_with_plain(without_search(listing)), searching=True)


def without_search(listing: Listing) -> Listing:
    """Every patient listed again, the same one selected."""
    return selecting(listing, listing.selected.id if listing.selected else "")


def moved(listing: Listing, action: str, page: int = 1) -> Listing:
    """Select another patient, as far as the list goes."""
    return replace(listing, at=row_moved(listing.at, action, len(listing.shown), page))


def selecting(listing: Listing, chart_id: str) -> Listing:
    """Every patient listed again, and the one of a chart selected."""
    return replace(_narrowed(listing, "", chart_id), searching=False)


def _plain(text: str) -> str:
    """Letters without - and _, which need not be typed."""
    return text.replace("-", "").replace("_", "")


def _with_plain(listing: Listing) -> Listing:
    if len(listing.plain) == len(listing.entries):
        return listing
    return replace(listing, plain=tuple([_plain(entry.code) for entry in listing.entries]))


def _places(listing: Listing, query: str) -> Sequence[int]:
    """Which codes contain the letters; with - or _ among these, just as they are."""
    if _plain(query) == query:
        return [i for i, code in enumerate(listing.plain) if query in code]
    return [i for i, entry in enumerate(listing.entries) if query in entry.code]


def _narrowed(listing: Listing, query: str, wanted: str) -> Listing:
    """The same letters searched for again, or none, and a chart selected."""
    if query:
        listing = _with_plain(listing)
        shown = tuple([listing.entries[i] for i in _places(listing, query)])
    else:
        shown = listing.entries
    # A patient who is gone leaves the selection where it was.
    near = clamped(listing.at, len(shown))
    at = next((i for i, entry in enumerate(shown) if entry.id == wanted), near) if wanted else near
    return replace(listing, query=query, shown=shown, at=at, behind=0)
