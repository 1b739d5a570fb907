"""A shelf that can only be read is read, verified, exported and backed up; nothing is changed."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.places import RESTORING

from tests.support.only_read import only_read
from tests.support.run import Run
from tests.support.shelves import content
from tests.support.terminal import PROGRAM

READING = (
    *(("verify",), ("worklist",), ("report", "DEMO-04"), ("report", "DEMO-04", "--full")),
    *(("export",), ("export", "--format", "json"), ("export", "--format", "fhir")),
    *(("history", "DEMO-04"), ("trend", "DEMO-04"), ("compare", "DEMO-04")),
    *(("patient", "DEMO-04"), ("events", "DEMO-04"), ("sheet", "DEMO-04"), ("agreement",)),
)
NOT_LOCKED = "nobody was kept from changing it"


def entries(folder: Path) -> dict[str, tuple[int, int]]:
    """Mode and last change of everything in a folder, and of itself."""
    seen = {path: path.stat() for path in (folder, *folder.rglob("*"))}
    return {str(path): (found.st_mode, found.st_mtime_ns) for path, found in seen.items()}


def test_what_only_reads_says_the_same(demo_copy: Path, run: Run):
    before = [run(*words) for words in READING]
    with only_read(demo_copy):
        there = entries(demo_copy)
        again = [run(*words) for words in READING]
        assert entries(demo_copy) == there
    assert again == before
    assert {done.code for done in again} == {0}


def test_a_backup_is_made_and_says_that_nothing_was_locked(demo_copy: Path, run: Run):
    assert NOT_LOCKED not in run("backup", "a.tar").err
    (demo_copy / "locks" / "keeping.lock").unlink()
    for name in ("b.tar", "c.tar"):
        with only_read(demo_copy):
            there = entries(demo_copy)
            done = run("backup", name)
            assert entries(demo_copy) == there
        assert (done.code, NOT_LOCKED in done.err) == (0, True), done
        (demo_copy / "locks" / "keeping.lock").touch(0o600)  # there, and not to be written to
    kept = [check_backup(Path(name)).members for name in ("a.tar", "b.tar", "c.tar")]
    assert kept[0] == kept[1] == kept[2]
    assert run("restore", "c.tar", "--shelf", "new").code == 0
    assert content(Path("new")) == content(demo_copy)


def test_a_restore_that_was_interrupted_is_not_copied_half_done(demo_copy: Path, run: Run):
    (demo_copy / RESTORING).mkdir(0o700)
    with only_read(demo_copy):
        code, _, err = run("backup", "b.tar")
    assert (code, "nothing was written" in err, Path("b.tar").exists()) == (1, True, False)
    assert run("backup", "b.tar").code == 0


def test_a_change_is_refused_and_the_shelf_stays_closed(demo_copy: Path, run: Run):
    before = content(demo_copy)
    with only_read(demo_copy):
        assert demo_copy.stat().st_mode & 0o777 == 0o500
        code, _, err = run("patient", "DEMO-04", "--height", "171", "--by", "KM")
        assert (code, "was not saved because" in err) == (1, True)
        assert verify(demo_copy) == ()
    assert content(demo_copy) == before


def test_a_file_that_cannot_be_written_to_on_a_shelf_that_can_is_found(demo_copy: Path):
    [journal] = (demo_copy / "journals").glob("*.journal")
    journal.chmod(0o400)
    [finding] = verify(demo_copy)
    assert (finding.where, "mode 0400" in finding.what) == (f"journals/{journal.name}", True)


def test_others_lose_their_rights_on_a_shelf_that_is_only_read(demo_copy: Path, run: Run):
    with only_read(demo_copy):
        (demo_copy / "charts").chmod(0o555)
        assert run("worklist").code == 0
        assert (demo_copy / "charts").stat().st_mode & 0o777 == 0o500


MOUNTED = 'mount --bind "$0" "$0" && mount -o remount,ro,bind "$0" && exec "$@"'


@pytest.mark.tools
@pytest.mark.skipif(os.geteuid() != 0, reason="only root mounts")
def test_a_disk_mounted_read_only_is_backed_up(demo_copy: Path, tmp_path: Path):
    demo_copy.chmod(0o755)  # nobody can close it there
    words = [*PROGRAM, "--shelf", str(demo_copy), "backup", str(tmp_path / "b.tar")]
    command = ["unshare", "-m", "sh", "-c", MOUNTED, str(demo_copy), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, NOT_LOCKED in done.stderr) == (0, True), done
    assert check_backup(tmp_path / "b.tar").counts["charts"] == 4
    assert demo_copy.stat().st_mode & 0o777 == 0o755
