"""Whether a process of this machine lives, and which machine this is."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path


def is_running(pid: int) -> bool:
    """Whether a process of this machine lives; one of another account counts, no pid is none.

    Args:
        pid: its number, 1 or more.
    """
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


@cache
def machine() -> str:
    """What all processes have in common whose numbers mean the same; another after each start.

    Two machines may have one name, and a container its own numbers.
    """
    try:
        booted = Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
        return f"{booted} {os.stat('/proc/self/ns/pid').st_ino}"
    except OSError:
        return os.uname().nodename
