"""One wording of the velocities, wherever they are explained."""

from __future__ import annotations

import pytest
from limbscribe.core.exchange.datapackage import readings_package
from limbscribe.core.exchange.fhir.codes import LOCAL
from limbscribe.core.tardieu.glossary import SPEEDS
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.tui.__main__ import main


def test_exports_explain_the_velocities_in_the_words_of_the_glossary() -> None:
    package = readings_package("r.csv", b"", ["fast_velocity"], shipped_muscles(), ())
    field = package["resources"][0]["schema"]["fields"][0]
    assert field["words"] == {"V2": SPEEDS["V2"], "V3": SPEEDS["V3"]}
    assert (LOCAL["v2"][1], LOCAL["v3"][1]) == (SPEEDS["V2"], SPEEDS["V3"])


def test_the_help_of_fall_explains_v2_in_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fall", "--help"]) == 0
    assert f"V2: {SPEEDS['V2']}." in " ".join(capsys.readouterr().out.split())
