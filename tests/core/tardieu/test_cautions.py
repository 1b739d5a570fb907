"""The cautions: short enough for one page, each with a source, and nobody is advised."""

from __future__ import annotations

import re
from textwrap import wrap

import pytest
from limbscribe.core.tardieu.cautions import CAUTIONS, LONGEST, NOTICE, Caution

CITATIONS = {
    "Calenoff et al. 1979, Arch Phys Med Rehabil 60:183-184; seen only as a citation": "Lumbar",
    "Crawford et al. 1986, J Burn Care Rehabil 7:323-327; only the abstract seen": "Heterotopic",
    "Clin Orthop Relat Res 1975;110:256-260; only the abstract seen": "Infant",
}
"""Every paper that may be named, and the one line it is about."""


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.check[:20])
def test_each_line_fits_and_says_where_it_comes_from(caution: Caution) -> None:
    assert 0 < len(caution.check) <= LONGEST
    assert len(wrap(caution.source, LONGEST)) <= 2
    assert caution.source == "common practice, no published source" or caution.source in CITATIONS
    assert (caution.check + caution.source).isascii()


def test_each_paper_is_named_with_what_it_is_about_and_nowhere_else() -> None:
    for citation, about in CITATIONS.items():
        [one] = [caution for caution in CAUTIONS if caution.source == citation]
        assert one.check.startswith(about)


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.check[:20])
def test_no_source_is_a_web_page(caution: Caution) -> None:
    assert not re.search(r"://|www\.|\w\.(com|org|net|edu|blog)|blog", caution.source, re.I)


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
