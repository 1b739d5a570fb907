"""``limbscribe demo``: the program on a throwaway copy of an invented clinic."""

from __future__ import annotations

import os
import re
import secrets
import shutil
from argparse import Namespace
from collections.abc import Generator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

from ..core.process import is_running
from .launch import need_terminal, run_app
from .terminal.output import print_err

_NAME = re.compile(r"demo-([0-9a-f]{8})-([0-9]{1,9})-[0-9a-f]{16}")


def run(args: Namespace) -> int:
    """Open the program on the invented clinic; nothing of it is left afterwards."""
    need_terminal()
    if getattr(args, "shelf", None):
        print_err("--shelf is not used: the demo has a throwaway shelf of its own")
    from platformdirs import user_cache_path

    with throwaway(user_cache_path("limbscribe")) as folder:
        _build(folder, caseload=getattr(args, "caseload", False))
        return run_app(folder, ascii_only=getattr(args, "ascii", False), demo=True)


def _build(folder: Path, caseload: bool) -> None:
    if caseload:
        from ..demo.caseload import build_caseload

        print_err("a shelf of 60 invented patients is made, which takes some seconds")
        build_caseload(folder)
    else:
        from ..demo.clinic import build_demo

        build_demo(folder)


@contextmanager
def throwaway(cache: Path) -> Generator[Path]:
    """A new folder, 0700, removed at the end; left-overs of dead processes are removed too."""
    cache.mkdir(mode=0o700, parents=True, exist_ok=True)
    for path in cache.iterdir():
        if is_stale(path.name):
            shutil.rmtree(path, ignore_errors=True)
    folder = cache / f"demo-{_host()}-{os.getpid()}-{secrets.token_hex(8)}"
    folder.mkdir(mode=0o700)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def is_stale(name: str) -> bool:
    """Whether a name is that of a demo folder whose process on this machine is dead."""
    match = _NAME.fullmatch(name)
    # A home may be shared by machines; another one's processes cannot be asked.
    if match is None or match.group(1) != _host():
        return False
    return not is_running(int(match.group(2)))


def _host() -> str:
    return sha256(os.uname().nodename.encode()).hexdigest()[:8]
