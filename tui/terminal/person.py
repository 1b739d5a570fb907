"""Who gives a command: kept with what it does."""

from __future__ import annotations

import getpass
from argparse import Namespace


def who(args: Namespace) -> str:
    """The name given with --by, else that of the account."""
    return str(args.by) if args.by else account()


def account() -> str:
    """The name of the account, "unknown" when it has none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # an account without a name
        return "unknown"
