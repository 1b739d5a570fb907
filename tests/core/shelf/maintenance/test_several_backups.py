"""Backups of several sites restored together: put together, in any order, and all or nothing."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import permutations
from pathlib import Path

import pytest
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.event import Event
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import moves, restore
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.restore import Restored
from limbscribe.core.shelf.maintenance.verify import verify, verify_all
from limbscribe.core.shelf.tombstones import read_tombstones

from tests.support.dying import dies_at
from tests.support.shelves import AT, chart, content, copied, leave_open, reading, session

LATER = "2036-03-09T10:40:00+01:00"
"""Later than today, when the charts of the tests are made."""


def event(name: str) -> Event:
    return Event(name, "cast", "2026-01-02", "", "", "left")


def amendment(name: str, r2: int, at: str = AT) -> Amendment:
    return Amendment(name, "P-01-1", "RE", "misread", at, (reading(r2=r2),))


@pytest.fixture
def away(shelf: Shelf, tmp_path: Path, ids: dict[str, str]) -> Callable[..., Path]:
    """Makes a backup of another site, a copy of the shelf as it was in the beginning."""
    start = copied(shelf, "start")

    def make(name: str, *acts: Callable[[Shelf], object]) -> Path:
        site = copied(start, name)
        for act in acts:
            act(site)
        path = tmp_path / f"{name}.backup"
        site.backup(path, AT)
        return path

    return make


@pytest.fixture
def two(away, ids) -> list[Path]:
    """Two sites that worked on P-01, and one on P-03."""
    north = away(
        "north",
        lambda s: s.add_closed(ids["P-01"], [session("n1")], "NN", AT),
        lambda s: s.amend(ids["P-01"], amendment("m1", 20)),
        lambda s: s.change_details(
            ids["P-01"], DetailsChange("d1", "NN", "", AT, {"height_cm": 150})
        ),
        lambda s: s.withdraw(ids["P-01"], "P-01-2", "NN", "training", AT),
    )
    south = away(
        "south",
        lambda s: s.amend(ids["P-01"], amendment("m2", 30)),
        lambda s: s.amend(ids["P-01"], Amendment("m3", "P-01-2", "SS", "no", AT, (reading(r2=9),))),
        lambda s: s.change_details(
            ids["P-01"], DetailsChange("d2", "SS", "", LATER, {"height_cm": 170})
        ),
        lambda s: s.add_event(ids["P-03"], event("s1")),
        lambda s: chart(s, "P-04"),
    )
    return [north, south]


def give(shelf: Shelf, *paths: Path, dry_run: bool = False, back: tuple[str, ...] = ()) -> Restored:
    return shelf.restore([check_backup(path) for path in paths], "RE", AT, back, dry_run)


def whats(done: Restored) -> dict[str, str]:
    assert len({chart.chart for chart in done.charts}) == len(done.charts)
    return {chart.code: chart.what for chart in done.charts}


def test_charts_of_several_sites_are_put_together(shelf, two, ids):
    shelf.add_event(ids["P-01"], event("here"))
    done = give(shelf, *two)
    assert done.all_here
    assert whats(done) == {
        "P-01": restore.MERGED,
        "P-02": restore.IDENTICAL,
        "P-03": restore.COMPLETED,
        "P-04": restore.ADDED,
    }
    now = shelf.load(ids["P-01"])
    assert {one.id for one in now.sessions} == {"P-01-1", "P-01-2", "n1"}
    assert {one.id for one in now.amendments} == {"m1", "m2", "m3"}
    assert {one.id for one in now.events} == {"P-01-e", "here"}
    assert now.patient.height_cm == 170
    assert [chain.session.id for chain in now.conflicts] == ["P-01-1"]
    assert now.withdrawn.keys() == {"P-01-2"}
    assert done.charts[0].more == (
        "what came: 1 session, 3 amendments, 2 changes of details, "
        "1 note of a session withdrawn or moved",
        "amendments of the session of 02 Mar 2026 disagree: settle that in the chart",
        "the details were changed at several sites: where they differ, what SS on "
        f"{LATER} said holds",
    )
    assert verify(shelf.folder) == ()
    assert not (shelf.folder / "charts" / "restored").exists()
    assert [p.name[:32] for p in (shelf.folder / "charts" / "damaged").iterdir()] == [ids["P-03"]]
    (note,) = verify_all(shelf.folder).notes
    assert "details were changed at different sites, by NN on" in note
    assert give(shelf, *two).all_here  # and again: nothing changes
    assert set(whats(give(shelf, *two)).values()) == {restore.OLDER, restore.IDENTICAL}


def test_order_and_grouping_change_nothing(shelf, two, away, ids):
    third = away("third", lambda s: s.add_event(ids["P-01"], event("t")))
    results = []
    for number, order in enumerate(permutations((*two, third))):
        once, apart = copied(shelf, f"once{number}"), copied(shelf, f"apart{number}")
        give(once, *order)
        for path in order:
            give(apart, path)
        results += [content(once.folder), content(apart.folder)]
    charts = [{n: d for n, d in each.items() if n.count("/") == 1} for each in results]
    assert all(each == charts[0] for each in charts)
    assert len(charts[0]) == 5  # four charts, one open session


def test_an_empty_shelf_gets_one_chart_of_several_sites(two, shelf, ids, tmp_path):
    new = Shelf(tmp_path / "new")
    done = give(new, *two)
    assert set(whats(done).values()) == {restore.ADDED}
    assert done.charts[0].more[0].startswith("put together from what the backups have: 1 patient,")
    give(shelf, *two)
    name = f"charts/{ids['P-01']}.json"
    assert content(new.folder)[name] == content(shelf.folder)[name]
    assert verify(new.folder) == ()


def test_a_dry_run_says_what_would_be_merged(shelf, two):
    before = content(shelf.folder)
    said = give(shelf, *two, dry_run=True)
    assert content(shelf.folder) == before
    assert said.charts == give(shelf, *two).charts
    assert content(shelf.folder) != before


def test_a_chart_that_somebody_has_open_waits(shelf, away, ids):
    path = away("north", lambda s: s.resume(ids["P-02"], "RE").close(session("open-2"), "RE", AT))
    opened = shelf.resume(ids["P-02"], "RE")
    before = content(shelf.folder)
    assert whats(give(Shelf(shelf.folder), path))["P-02"] == restore.BUSY
    opened.leave()
    assert content(shelf.folder) == before


@pytest.mark.parametrize("erasing_first", [True, False])
def test_what_one_site_erased_no_order_of_backups_brings_back(
    shelf, away, ids, tmp_path, erasing_first
):
    old = away("north", lambda s: s.add_event(ids["P-03"], event("n")))
    erased = away("south", lambda s: s.erase("P-03", "SS", AT))
    new = Shelf(tmp_path / "new")
    order = (erased, old) if erasing_first else (old, erased)
    done = give(new, *order)
    assert done.all_here, "that it stays erased is said, and is no trouble"
    assert whats(done)["P-03"] == restore.GONE_THERE
    assert new.find("P-03") is None
    assert [stone.chart for stone in read_tombstones(new._root)] == [ids["P-03"]]
    assert whats(give(new, old))["P-03"] == restore.GONE
    # Where it still is, nothing of it is taken away, and nothing is added to it.
    before = content(shelf.folder)
    done = give(shelf, *order)
    assert whats(done)["P-03"] == restore.GONE_THERE
    assert content(shelf.folder) == before
    assert any(f"the chart {ids['P-03']} was erased when" in words for words in done.others)
    # Unless somebody says so.
    done = give(new, *order, back=("P-03",))
    assert whats(done)["P-03"] == restore.ADDED
    assert [one.id for one in new.load(ids["P-03"]).events] == ["P-03-e", "n"]
    assert not any(stone.holds for stone in read_tombstones(new._root))
    assert verify(new.folder) == ()


def test_a_code_erased_at_one_site_does_not_come_under_another_id(away, ids, tmp_path):
    other = Shelf(tmp_path / "other")
    chart(other, "P-03")
    other.backup(tmp_path / "other.tar", AT)
    erased = away("south", lambda s: s.erase("P-03", "SS", AT))
    new = Shelf(tmp_path / "new")
    done = give(new, tmp_path / "other.tar", erased)
    assert whats(done)["P-03"] == restore.GONE_THERE
    assert new.find("P-03") is None


def test_one_code_with_two_ids_in_two_backups_gets_one_chart_and_a_copy(tmp_path):
    paths = []
    for name in ("one", "two"):
        site = Shelf(tmp_path / name)
        chart(site, "P-09")
        paths.append(tmp_path / f"{name}.tar")
        site.backup(paths[-1], AT)
    found = []
    for order in permutations(paths):
        new = Shelf(tmp_path / f"new{order[0].stem}")
        done = give(new, *order)
        assert sorted(c.what for c in done.charts) == sorted([restore.ADDED, restore.TAKEN])
        assert not done.all_here
        found.append(content(new.folder))
        assert verify(new.folder) == ()
    assert found[0] == found[1]
    assert len(found[0]) == 2


def test_open_sessions_of_two_backups_are_both_kept(shelf, away, ids):
    one = away("north", lambda s: leave_open(s, ids["P-03"], "north's", 2))
    two = away("south", lambda s: leave_open(s, ids["P-03"], "south's", 5))
    done = give(shelf, one, two)
    assert done.charts[2].more[0] == "its open session comes too and can be resumed"
    assert "another session is open here; that of the backup is" in done.charts[2].more[1]
    assert len(shelf.look(ids["P-03"]).entries) == 5
    assert len([n for n in content(shelf.folder) if "discarded" in n]) == 1
    before = content(shelf.folder)
    give(shelf, two, one)
    assert content(shelf.folder) == before


def test_a_session_gone_on_with_is_taken_as_it_got_furthest(shelf, away, ids, tmp_path):
    def on(site: Shelf) -> None:
        opened = site.resume(ids["P-02"], "RE")
        opened.append({"n": 3})
        opened.leave()

    less, more = away("north"), away("south", on)
    new = Shelf(tmp_path / "new")
    give(new, less, more)
    assert len(new.look(ids["P-02"]).entries) == 4
    assert not [name for name in content(new.folder) if "discarded" in name]


def test_an_open_session_that_another_site_closed_does_not_come_back(shelf, away, ids, tmp_path):
    closed = away("north", lambda s: s.resume(ids["P-02"], "RE").close(session("open-2"), "RE", AT))
    new = Shelf(tmp_path / "new")
    give(new, away("south"), closed)
    assert not new.has_open(ids["P-02"])
    assert new.load(ids["P-02"]).sessions[-1].id == "open-2"
    assert verify(new.folder) == ()


def test_a_damaged_document_here_is_replaced_and_the_rest_put_together(shelf, two, ids):
    shelf.add_event(ids["P-01"], event("here"))
    sound = copied(shelf, "sound")
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    bad = path.read_bytes().replace(b'"note":"left leg"', b'"note":"left arm"')
    path.write_bytes(bad)
    done = give(shelf, *two)
    assert whats(done)["P-01"] == restore.MERGED
    (kept,) = (p for p in (shelf.folder / "charts" / "damaged").iterdir() if ids["P-01"] in p.name)
    assert kept.read_bytes() == bad
    assert kept.name in done.charts[0].more[-1]
    give(sound, *two)
    assert path.read_bytes() == (sound.folder / "charts" / path.name).read_bytes()
    assert verify(shelf.folder) == ()


@pytest.mark.parametrize("turned", [False, True])
def test_a_backup_is_taken_once_another_has_what_is_damaged_here(shelf, away, ids, turned):
    """Whichever is looked at first, and in a new document here is what no backup may lose."""
    shelf.add_event(ids["P-01"], event("here"))
    has_it = shelf.folder.with_name("has-it.backup")
    shelf.backup(has_it, AT)
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    path.write_bytes(path.read_bytes().replace(b'"note":"left"', b'"note":"lost"'))
    for number in range(6):  # their bytes, and so their order, are chance
        trial = copied(shelf, f"trial{number}{turned}")
        other = away(f"other{number}", lambda s, n=number: s.add_event(ids["P-01"], event(f"o{n}")))
        done = give(trial, *((has_it, other) if turned else (other, has_it)))
        assert whats(done)["P-01"] == restore.MERGED
        assert {e.id for e in trial.load(ids["P-01"]).events} == {"P-01-e", "here", f"o{number}"}
        assert verify(trial.folder) == ()


def test_a_damaged_document_that_no_backup_has_stays_reported(shelf, two, ids):
    shelf.add_event(ids["P-01"], event("here"))
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    path.write_bytes(path.read_bytes().replace(b'"note":"left"', b'"note":"lost"'))
    before = path.read_bytes()
    done = give(shelf, *two)
    said = [c for c in done.charts if c.code == "P-01"]
    assert {c.what for c in said} == {restore.DIFFERS}
    assert len(said) == 2
    assert said[0].more[1] == "events 2 is damaged and in neither of them sound"
    assert path.read_bytes() == before
    assert len(list((shelf.folder / "charts" / "restored").iterdir())) == 2
    assert verify(shelf.folder) != ()


def test_one_unreadable_backup_among_several_changes_nothing(shelf, two):
    two[1].write_bytes(two[1].read_bytes()[:-700])
    before = content(shelf.folder)
    with pytest.raises(ShelfError, match=r"south.backup is no sound backup.*nothing was changed"):
        give(shelf, *two)
    assert content(shelf.folder) == before


def test_a_backup_changed_after_its_check_changes_nothing(shelf, two):
    archives = [check_backup(path) for path in two]
    data = bytearray(two[1].read_bytes())
    data[700] ^= 1
    two[1].write_bytes(data)
    before = content(shelf.folder)
    with pytest.raises(ShelfError, match="changed while it was read"):
        shelf.restore(archives, "RE", AT)
    assert content(shelf.folder) == before


def test_what_is_written_between_plan_and_move_is_not_overwritten(shelf, two, ids, monkeypatch):
    shelf.add_event(ids["P-01"], event("here"))
    real = moves.commit

    def commit(*args: object) -> None:
        real(*args)
        Shelf.add_event(shelf, ids["P-01"], event("quicker"))

    monkeypatch.setattr(restore, "commit", commit)
    done = give(shelf, *two)
    assert any(f"{ids['P-01']}.json is in use" in words for words in done.others)
    assert {one.id for one in shelf.load(ids["P-01"]).events} == {"P-01-e", "here", "quicker"}
    monkeypatch.undo()
    assert whats(give(shelf, *two))["P-01"] == restore.MERGED
    assert {one.id for one in shelf.load(ids["P-01"]).events} == {"P-01-e", "here", "quicker"}
    assert shelf.load(ids["P-01"]).conflicts
    assert verify(shelf.folder) == ()


def test_a_plan_of_an_earlier_version_is_finished(shelf, two, ids, monkeypatch):
    """It has nothing in it about a chart that may be written over."""
    monkeypatch.setattr(restore, "finish", lambda _: [])
    (shelf.folder / "charts" / f"{ids['P-03']}.json").unlink()
    give(shelf, two[1])
    plan = shelf.folder / "restoring" / moves.PLAN
    doc = moves.parse_json(plan.read_bytes())
    for move in doc["moves"]:
        assert move.pop("instead") == ""
    del doc["sum"]
    plan.write_bytes(moves.canonical({**doc, "sum": moves.digest(doc)}))
    again = Shelf(shelf.folder)
    assert again.find("P-03") == ids["P-03"]
    assert verify(shelf.folder) == ()


def given(shelf: Shelf, paths: list[Path]) -> None:
    give(shelf, *paths)


@pytest.mark.deep
def test_a_merge_that_dies_at_any_write_is_done_or_not_done(shelf, two, ids):
    shelf.add_event(ids["P-01"], event("here"))
    old = content(shelf.folder)
    done = copied(shelf, "done")
    give(done, *two)
    new = content(done.folder)
    seen = set()
    for at in range(1, 400):
        trial = copied(shelf, "trial")
        died = dies_at(at, partial(given, trial, two))
        again = Shelf(trial.folder)
        now = content(trial.folder)
        assert now in (old, new), at
        seen.add(now == new)
        assert verify(trial.folder) == (), at
        assert not (trial.folder / "restoring").exists()
        assert len(again.charts()) == (4 if now == new else 3)
        if not died:
            break
    assert seen == {True, False}
    assert at > 40
