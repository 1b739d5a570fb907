"""The catalogues of the report's languages: complete, or nothing is built.

What a page says is read out of the source anew; Babel, which makes the catalogues, reads them.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from gettext import GNUTranslations
from io import BytesIO
from pathlib import Path
from types import ModuleType

import pytest
from babel import Locale
from babel.messages import Catalog
from limbscribe.core.language import CATALOGUES, ENGLISH, LANGUAGES, ngettext, speaking

from tests import ROOT
from tests.support.source import script

OTHERS = [language for language in LANGUAGES if language != ENGLISH]


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    """What makes the catalogues."""
    return script("tui/shell/catalogues.py")


def test_there_is_a_catalogue_for_every_language():
    assert {file.name for file in CATALOGUES.iterdir()} == {
        f"{language}.{kind}" for language in OTHERS for kind in ("po", "mo")
    }


@pytest.mark.parametrize("language", OTHERS)
def test_catalogue_is_complete(language: str, maker: ModuleType):
    catalogue = maker.stored(CATALOGUES / f"{language}.po")
    assert len(catalogue) > 240
    assert list(maker.faults(catalogue)) == []


@pytest.mark.parametrize("language", OTHERS)
def test_what_the_program_reads_is_made_of_the_catalogue(
    language: str, maker: ModuleType, tmp_path: Path
):
    """After a change: python tui/shell/catalogues.py."""
    file = Path(shutil.copy(CATALOGUES / f"{language}.po", tmp_path))
    maker.write(maker.renewed(file), file)
    for made in (file, file.with_suffix(".mo")):
        assert made.read_bytes() == (CATALOGUES / made.name).read_bytes(), made.name


@pytest.mark.tools
@pytest.mark.parametrize("language", OTHERS)
def test_gnu_gettext_takes_the_catalogue_and_makes_the_same_of_it(language: str, tmp_path: Path):
    made = tmp_path / "made.mo"
    command = ["msgfmt", "--check", "-o", made, CATALOGUES / f"{language}.po"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stdout) == (0, ""), ran.stderr
    theirs, ours = (
        GNUTranslations(BytesIO(file.read_bytes()))._catalog  # no other way leads to all of it
        for file in (made, CATALOGUES / f"{language}.mo")
    )
    assert theirs == ours


def planted(change: Callable[[Catalog], None], maker: ModuleType) -> list[str]:
    """Faults of the German catalogue after a change."""
    catalogue = maker.stored(CATALOGUES / "de.po")
    change(catalogue)
    return list(maker.faults(catalogue))


def _set(text: str, words: str) -> Callable[[Catalog], None]:
    def change(catalogue: Catalog) -> None:
        catalogue[text].string = words

    return change


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda one: one.delete("catch gone"), "missing: (None, 'catch gone')"),
        (lambda one: one.delete("Gap"), "missing: (None, 'Gap')"),
        (lambda one: one.delete("Soleus", "muscle group"), "missing: ('muscle group', 'Soleus')"),
        (lambda one: one.add("catch, maybe", "vielleicht"), "nobody says: (None, 'catch, maybe')"),
        (_set("catch gone", " "), "empty: (None, 'catch gone')"),
        (lambda one: one["catch gone"].flags.add("fuzzy"), "fuzzy: (None, 'catch gone')"),
        (_set("at {angle}", "bei"), "placeholder left out: (None, 'at {angle}')"),
        (_set("at {angle}", "{angle} {winkel}"), "unknown placeholder: (None, 'at {angle}')"),
        (_set("at {angle}", "{angle} {"), "unknown placeholder: (None, 'at {angle}')"),
        (
            lambda one: setattr(one["{count} station"], "string", ("{count} Messstelle",)),
            "empty: (None, '{count} station')",
        ),
    ],
)
def test_planted_faults_are_found(change: Callable[[Catalog], None], fault: str, maker: ModuleType):
    assert planted(change, maker) == [fault]


def test_texts_are_found_wherever_they_are_said(maker: ModuleType):
    source = (
        'TABLE = {1: N_("in a table")}\n'
        'def f(n): return f"{gettext(\'inside\')} {ngettext("one", "more", n)}"\n'
        'gettext(TABLE[1]); pgettext("place", "word"); print("not said")\n'
    ).replace('"one", "more"', "'one', 'more'")
    assert list(maker.calls(source)) == [
        ("N_", ("in a table",)),
        ("gettext", ("inside",)),
        ("ngettext", ("one", "more")),
        ("pgettext", ("place", "word")),
    ]
    for wrong in ('gettext(f"now {x}")', 'gettext("a" if x else "b")', 'gettext("a" + x)'):
        with pytest.raises(ValueError, match="line 1: gettext"):
            list(maker.calls(wrong))


def test_the_functions_are_called_by_their_own_names():
    """Else what they say would not be found."""
    for file in (ROOT / "core").rglob("*.py"):
        for line in file.read_text("utf-8").splitlines():
            if "language import" in line:
                assert " as " not in line, file
            assert "language.gettext(" not in line, file


@pytest.mark.parametrize("language", OTHERS)
def test_plural_forms_are_those_of_cldr(language: str):
    """Unicode CLDR, as Babel has it."""
    rule = Locale(language).plural_form
    with speaking(language):
        said = {n: ngettext("{count} comment", "{count} comments", n) for n in range(30)}
    for n, words in said.items():
        assert (words == said[1]) == (rule(n) == "one"), n
    assert said[1] != said[2]
