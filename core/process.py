"""Whether a process of this machine lives."""

from __future__ import annotations

import os


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
