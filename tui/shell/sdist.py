"""The source archive: as setuptools makes it, with the tests and the change log.

Named in pyproject.toml. It is code since the agreed top level of the project has no MANIFEST.in.
"""

from __future__ import annotations

from pathlib import Path

from setuptools.command.sdist import sdist

MORE = ("CHANGELOG.md", "DEVELOPERS.md", "dev.lock", "tests/**/*", "tui/shell/*")


class Sdist(sdist):
    """Adds what a packager needs to check the program."""

    def make_distribution(self) -> None:
        """Add the files; what a test run left behind stays out."""
        for pattern in MORE:
            for path in Path().glob(pattern):
                if path.is_file() and "__pycache__" not in path.parts:
                    self.filelist.append(str(path))
        super().make_distribution()
