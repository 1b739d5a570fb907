"""The cautions: short enough for one page, each with a source, and nobody is advised."""

from __future__ import annotations

import re

import pytest
from limbscribe.core.tardieu.cautions import CAUTIONS, LONGEST, MEMORY, NOTICE, Caution


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.check[:20])
def test_each_line_fits_and_says_where_it_comes_from(caution: Caution) -> None:
    assert 0 < len(caution.check) <= LONGEST
    assert 0 < len(caution.source) <= LONGEST
    assert MEMORY in caution.source or re.search(r"\.(com|blogspot)|PubMed \d+", caution.source)
    assert (caution.check + caution.source).isascii()


def test_the_lines_fit_one_page_and_differ() -> None:
    assert len(CAUTIONS) <= 12
    assert len({caution.check for caution in CAUTIONS}) == len(CAUTIONS)


@pytest.mark.parametrize(
    "topic",
    ["fracture", "bone", "T6", "clot", "Shoulder", "Hip", "Infant", "Bleeding", "Consent", "pump"],
)
def test_what_clinicians_expect_is_among_them(topic: str) -> None:
    assert any(topic in caution.check for caution in CAUTIONS)


def test_no_line_tells_anybody_what_to_give_or_do() -> None:
    words = " ".join(caution.check for caution in CAUTIONS).lower()
    assert not re.search(r"\b(should|must|give|reduce|increase|stop the|prescribe|inject)\b", words)


def test_the_notice_leaves_the_decision_to_people() -> None:
    assert "local policy and licensed practice decide" in NOTICE.lower()
    for word in ("diagnose", "dose", "advise"):
        assert word in NOTICE
