"""HTML and PDF before checkers that others wrote.

The Nu HTML checker (package vnu-jar) is the one that the W3C runs, axe (package axe-core) looks
for what shuts readers with a screen reader or a keyboard out, qpdf reads every object of a PDF.
"""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.language import LANGUAGES
from limbscribe.core.report.forms import PDF, document, rendered
from limbscribe.core.report.model import Report

from tests.support.reports import long, page_in

from .test_browser import run

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""

NO_HASH = "info: Inline style violates Content Security Policy"
"""It reckons no hashes. That ours is right the browser says, see test_browser.py."""

PACKAGES = Path(__file__).parents[2] / "web" / "node_modules"
KINDS = ("page", "full", "hostile page", "hostile full", "60 stations", "de", "fr", "es")


@pytest.fixture(params=KINDS)
def shown(request: pytest.FixtureRequest) -> Any:
    """Pages and full reports, calm ones and hostile ones, and pages in other languages."""
    if request.param in LANGUAGES:
        return page_in(request.getfixturevalue("tiny_chart"), request.param)
    report: Report = request.getfixturevalue("hostile" if "hostile" in request.param else "report")
    if request.param == "60 stations":
        return long(report, 60).page
    return report if "full" in request.param else report.page


def package(*path: str) -> Path:
    """A file of a package."""
    found = PACKAGES.joinpath(*path)
    assert found.exists(), "npm ci --ignore-scripts --prefix tests/web (.ci/run does)"
    return found


def nu(folder: Path, text: str) -> list[str]:
    """What the Nu checker has to say about a page, warnings too."""
    (folder / "report.html").write_text(text, "utf-8")
    jar = package("vnu-jar", "build", "dist", "vnu.jar")
    ran = subprocess.run(
        ["java", "-jar", jar, "--format", "json", folder / "report.html"],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    said: list[dict[str, Any]] = json.loads(ran.stderr)["messages"]
    found = [f"{one['type']}: {one['message']}" for one in said]
    return [words for words in found if not words.startswith(NO_HASH)]


def axe(folder: Path, text: str) -> list[str]:
    """What axe finds in a page as the browser shows it.

    The report's own policy lets no script in; here, and nowhere else, one is let in.
    """
    script = package("axe-core", "axe.min.js").read_text("utf-8")
    report = "axe.run(document).then(found => { document.title = JSON.stringify(found.violations"
    report += ".map(one => one.id + ': ' + one.nodes.map(node => node.html).join(' '))) })"
    open_ = re.sub(r"<meta http-equiv[^>]*>", "", text)
    assert open_ != text, "the report names a policy"
    scripts = f"<script>{script}</script><script>{report}</script></body>"
    (folder / "report.html").write_text(open_.replace("</body>", scripts), "utf-8")
    ran = run(folder, "--virtual-time-budget=60000", "--dump-dom")
    assert ran.returncode == 0, ran.stderr
    title = re.search(r"<title>(.*?)</title>", ran.stdout, re.DOTALL)
    assert title, "the page has no title"
    return json.loads(html.unescape(title[1]))


def test_the_nu_checker_has_nothing_to_say(shown: Any, tmp_path: Path):
    assert nu(tmp_path, rendered(shown, "html")) == []


def test_axe_finds_nothing(shown: Any, tmp_path: Path):
    assert axe(tmp_path, rendered(shown, "html")) == []


def test_qpdf_finds_every_object_whole(shown: Any, tmp_path: Path):
    (tmp_path / "report.pdf").write_bytes(document(shown, PDF))
    qpdf = shutil.which("qpdf")
    assert qpdf, "qpdf is missing: apt-get install qpdf (.ci/run does)"
    ran = subprocess.run(
        [qpdf, "--check", tmp_path / "report.pdf"], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "No syntax or stream encoding errors found" in ran.stdout


def test_the_checkers_do_find_faults(report: Report, tmp_path: Path):
    """Planted: a list without its end and an attribute that is none; a language taken away."""
    text = rendered(report.page, "html")
    broken = text.replace("<main>", "<main nonsense='1'><ul>", 1)
    assert broken != text
    assert any("nonsense" in one for one in nu(tmp_path, broken))
    silent = re.sub(r"<html lang=[^>]*>", "<html>", text)
    assert silent != text
    assert any(one.startswith("html-has-lang") for one in axe(tmp_path, silent))
    whole = document(report.page, PDF)
    (tmp_path / "report.pdf").write_bytes(whole[: len(whole) // 2])
    ran = subprocess.run(["qpdf", "--check", tmp_path / "report.pdf"], capture_output=True)
    assert ran.returncode != 0
