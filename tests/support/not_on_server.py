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

INDEX = "there is no index file: each chart's line lies beside the chart"
FOLDER = "it looks for files of a folder, or starts a process on a folder, in a way of its own"
LOCKS = "a lock is a row and no file"
DISK = "it makes a call on the disk fail"
PLACE = "it looks at which folder a screen is handed"
FORKED = "it kills a process of the test between two calls on the disk"

_SHELF = "tests/core/shelf/test_shelf.py::test_"
_DAMAGE = "tests/core/shelf/maintenance/test_damage.py::test_"
_ERASE = "tests/core/shelf/maintenance/test_erase.py::test_"
_SETTLING = "tests/tui/screens/opening/test_settling.py::test_"

NOT_ON_SERVER: dict[str, str] = {
    _SHELF + "a_new_chart_holds_its_patient": FOLDER,
    _SHELF + "the_list_is_right_whatever_the_index_is": INDEX,
    _SHELF + "only_changed_charts_are_read_again": INDEX,
    _SHELF + "a_list_made_anew_tells_how_far_it_is": INDEX,
    _DAMAGE + "every_flip_and_cut_of_every_file_is_noticed": INDEX,
    _DAMAGE + "an_index_that_lies_with_a_right_checksum_is_found": INDEX,
    _DAMAGE + "verify_of_a_shelf_made_before_there_was_setting_aside": FOLDER,
    _ERASE + "everything_of_one_patient_goes_and_nothing_of_another": LOCKS,
    _ERASE + "two_at_work_on_the_whole_shelf_do_not_meet": FOLDER,
    _ERASE + "what_a_dead_process_removed_is_flushed_before_the_record_says_so": FORKED,
    "tests/core/shelf/maintenance/test_backup_restore.py::"
    "test_a_backup_overwrites_nothing_and_stays_off_the_shelf": FOLDER,
    "tests/core/shelf/maintenance/test_salvage.py::test_a_full_disk_changes_nothing": DISK,
    "tests/tui/cli/test_commands.py::"
    "test_verify_is_silent_about_a_sound_shelf_and_loud_about_another": FOLDER,
    "tests/tui/cli/test_commands.py::test_enter_opens_a_patient": PLACE,
    "tests/tui/cli/test_import_export.py::"
    "test_output_is_private_and_never_overwrites_unasked": FOLDER,
    _SETTLING + "the_first_frame_looks_at_no_chart_and_the_next_at_each": INDEX,
    _SETTLING + "few_patients_or_no_list_on_the_disk_are_looked_at_first": INDEX,
    _SETTLING + "keys_typed_ahead_of_another_list_act_on_no_row": INDEX,
    _SETTLING + "what_was_chosen_before_stays_chosen": INDEX,
    _SETTLING + "what_is_about_every_patient_waits_for_all_of_them": INDEX,
    _SETTLING + "a_list_under_another_screen_is_read_when_that_is_closed": INDEX,
    "tests/tui/screens/opening/test_worklist.py::"
    "test_an_index_of_an_earlier_form_is_made_anew_and_no_damage": INDEX,
    "tests/system/people/test_killed_holder.py::"
    "test_one_who_dies_while_opening_takes_nobodys_place": LOCKS,
    "tests/system/people/test_in_the_app.py::"
    "test_the_chart_screen_says_so_too_and_stays_useful": LOCKS,
}
"""By test; each is run and must fail, so that no line stays here that is not needed."""

HOLDS = (_SHELF + "the_list_is_right_whatever_the_index_is[old]",)
"""What holds all the same, of a test that is tried with several values."""

if __name__ == "__main__":
    print(*BOTH)
