"""Saving a report from the app: a new file for its owner only, never in place of another."""

from __future__ import annotations

from pathlib import Path

from ....core.outside import NoPlainFile, write_whole
from ....core.report.forms import FORMS, PDF, NoPdf, document
from ....core.report.model import Report
from ....core.report.page import Page
from ....core.text import visible

MOST_NAMES = 1000


def offered(form: str, day: str) -> str:
    """A path in the home folder that nothing has yet; the patient's code is not in it.

    Args:
        form: key of FORMS.
        day: of the session, YYYY-MM-DD.
    """
    short = "-short" if form == "short" else ""
    for number in range(1, MOST_NAMES):
        again = f"-{number}" if number > 1 else ""
        path = Path.home() / f"report-{day}{short}{again}{FORMS[form].ending}"
        if not path.exists() and not path.is_symlink():
            return str(path)
    return ""


def save_as(path: str, report: Page | Report, form: str, ascii_only: bool = False) -> str:
    """Write a report to a new file in a form, as PDF where the path ends in .pdf.

    Returns:
        What went wrong, "" when it is on the disk.
    """
    try:
        data = document(report, PDF if path.lower().endswith(".pdf") else form, ascii_only)
    except NoPdf as error:
        return f"{error}. Nothing was written."
    return save(path, data)


def save(path: str, data: bytes) -> str:
    """Write a new file; returns what went wrong, "" when it is on the disk."""
    if not path:
        return "The report was not saved: no path was given."
    try:
        write_whole(Path(path).expanduser(), data)
    except NoPlainFile as error:
        return f"{visible(path)} was not touched: {error.strerror}."
    except FileExistsError:
        return f"{visible(path)} exists and was not touched: choose another name."
    except (OSError, ValueError, RuntimeError) as error:
        why = (error.strerror if isinstance(error, OSError) else "") or str(error)
        return f"{visible(path)} was not written ({visible(why)}): choose another place."
    return ""
