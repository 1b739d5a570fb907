"""The second shelf of the invented clinic, made once for the tests of a process."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from limbscribe.core.caseload.caseload import Caseload, caseload_of
from limbscribe.core.caseload.choosing import Choice
from limbscribe.core.caseload.facts import ChartFacts
from limbscribe.core.caseload.reading import read_facts
from limbscribe.core.caseload.summary import terms_of
from limbscribe.core.change.compare import Basis
from limbscribe.core.config.settings import Settings
from limbscribe.core.shelf import Shelf
from limbscribe.demo.caseload import build_caseload

from tests.support.planted import RULE
from tests.support.records import MUSCLES

PATIENTS = 40
ON = date(2026, 11, 25)
BASIS = Basis(MUSCLES, Settings(cycle_rule=RULE))


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shelf; who takes this leaves its charts as they are."""
    found = tmp_path_factory.mktemp("caseload") / "shelf"
    build_caseload(found, PATIENTS)
    return found


@pytest.fixture(scope="session")
def facts(folder: Path) -> tuple[ChartFacts | None, ...]:
    """What the caseload keeps of its charts."""
    return tuple(read_facts(Shelf(folder), BASIS))


def count(facts: tuple[ChartFacts | None, ...], choice: Choice | None = None, **more) -> Caseload:
    """Add it up."""
    choice = choice or Choice()
    terms = terms_of(BASIS.settings, MUSCLES, more.pop("on", ON), choice.examiner)
    return caseload_of(facts, choice, terms, tuple(MUSCLES), **more)
