"""Which tests of a shelf run over both, and what of them cannot hold on a server, and why.

``python -m tests.support.not_on_server`` names the files; see both.py.
"""

from __future__ import annotations

BOTH = (
    "tests/core/shelf/test_shelf.py",
    "tests/core/shelf/test_transfers.py",
    "tests/core/shelf/maintenance/test_backup_restore.py",
    "tests/core/shelf/maintenance/test_damage.py",
    "tests/core/shelf/maintenance/test_erase.py",
    "tests/core/shelf/maintenance/test_salvage.py",
    "tests/core/shelf/maintenance/test_tampering.py",
    "tests/core/chart/test_amendments.py",
    "tests/core/chart/test_details.py",
    "tests/core/change/test_history.py",
    "tests/core/exchange/test_frames.py",
    "tests/core/exchange/test_identity.py",
    "tests/core/exchange/test_import_details.py",
    "tests/core/exchange/test_importing.py",
    "tests/tui/cli/test_commands.py",
    "tests/tui/cli/test_compare.py",
    "tests/tui/cli/test_events.py",
    "tests/tui/cli/test_import_export.py",
    "tests/tui/cli/test_maintenance.py",
    "tests/tui/cli/test_patient.py",
    "tests/tui/cli/test_withdraw.py",
    "tests/tui/screens/chart",
    "tests/tui/screens/details",
    "tests/tui/screens/entry/test_screen.py",
    "tests/tui/screens/opening",
    "tests/tui/screens/review",
    "tests/tui/screens/withdraw",
    "tests/system/people",
    "tests/system/test_whole_job.py",
)
"""Those that are about what a shelf is."""

NOT_ON_SERVER: dict[str, str] = {}
"""By test; each is run and must fail, so that no line stays here that is not needed."""

if __name__ == "__main__":
    print(*BOTH)
