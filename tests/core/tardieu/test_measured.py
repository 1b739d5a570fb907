"""Whether there was a catch, where the grade and the angle do not say the same.

Grades 2 to 4 are a catch at a definite angle (national data element C11965, grades 0 to 5); 5 is
a joint that cannot be moved. So none of them without an angle may be read as "no catch".
"""

from __future__ import annotations

import pytest
from limbscribe.core.change.trend import point_of
from limbscribe.core.entry.rows import r1_text
from limbscribe.core.tardieu.components import plain_line
from limbscribe.core.tardieu.measured import catch_of, fast_state
from limbscribe.core.tardieu.reading_words import reading_words
from limbscribe.tui.screens.compare.figures import state_mark

from tests.support.compared import LEFT
from tests.support.records import reading, session


@pytest.mark.parametrize("tries", [(), (None,)])
@pytest.mark.parametrize(
    ("quality", "caught"), [(0, False), (1, False), (2, None), (3, None), (4, None), (5, None)]
)
def test_a_grade_without_an_angle_is_said_alike_everywhere(quality, caught, tries) -> None:
    found = reading("soleus", LEFT, None, 10, quality=quality, r1_tries=tries)
    none = caught is False
    assert catch_of(found) is caught
    assert fast_state(found) == ("no-catch" if none else "not-recorded")
    assert point_of(session("2026-01-02", found), found).caught is caught
    assert r1_text(found) == ("none" if none else ".")
    assert state_mark(found) == ("no catch" if none else "not tested")
    assert ("no catch" in reading_words(found)) is none
    assert plain_line(found, "", 5).startswith("no catch" if none else "no R1, so no gap")


def test_an_empty_try_without_a_grade_met_no_catch_and_a_reason_is_kept() -> None:
    assert catch_of(reading("soleus", LEFT, None, 10, quality=None)) is False
    pain = reading("soleus", LEFT, None, 10, quality=2, not_tested="pain")
    assert fast_state(pain) == "not-tested"
