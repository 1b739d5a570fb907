"""The shelf: a folder with one chart file per patient, and the journals of open sessions.

The only part of the program that knows TinyDB and locks. What it promises:

* A call that returns has put its data on the disk; a call that raises says what is lost.
* A closed session is never changed, an amendment is a document of its own.
* A save costs what one patient's history costs, however many charts there are.
* Whatever was damaged is noticed, and whatever was not stays readable.

TinyDB, filelock and platformdirs are imported by the first call that needs them: together
they cost about as much as the rest of a non-interactive command. For the same reason what
verifies is imported from maintenance/verify.py.
"""

from ..chart.chart_entry import ChartEntry
from .opened import OpenSession
from .places import default_place
from .shelf import Shelf

__all__ = ["ChartEntry", "OpenSession", "Shelf", "default_place"]
