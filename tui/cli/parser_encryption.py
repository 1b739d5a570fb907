"""The command line of ``limbscribe encryption``, and of its former name."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from _collections_abc import dict_items
    from argparse import _SubParsersAction  # pyright: ignore[reportPrivateUsage]

WHAT = (
    " on: encrypt the shelf, with a passphrase and a recovery key to be printed."
    " passphrase: a new passphrase. new-key: a new key, everything is encrypted anew."
    " recover: a new passphrase by the recovery key. off: decrypt. Each is complete or not done"
    " at all, also when it is interrupted. Passphrases are asked for on the terminal, never taken"
    " from the command line. Needs pip install 'limbscribe[encryption]'."
)

FORMER = "vault"
_FORMER_VERBS = {
    "create": "on",
    "change": "passphrase",
    "rekey": "new-key",
    "open-with-recovery": "recover",
    "remove": "off",
}
"""What each was called in the first versions -> what it is called now."""

_VERBS = tuple(_FORMER_VERBS.values())


def encryption(parser: ArgumentParser) -> None:
    """What can be typed after the command."""
    words = f"{', '.join(_VERBS[:-1])} or {_VERBS[-1]}"
    parser.add_argument("what", metavar="WHAT", choices=_VERBS, help=words)


def _present(verb: str) -> str:
    return _FORMER_VERBS.get(verb, verb)


class _Listed(dict[str, Any]):
    """The commands by name, of which the former one works and is not listed."""

    def __iter__(self) -> Iterator[str]:
        return (name for name in super().__iter__() if name != FORMER)

    def items(self) -> dict_items[str, Any]:
        """The listed ones."""
        return {name: self[name] for name in self}.items()


def add_former(commands: _SubParsersAction[Any], everywhere: ArgumentParser) -> None:
    """Take the command in the words of the first versions too, for scripts that have them.

    Args:
        commands: where commands are added.
        everywhere: the options of every command.
    """
    parser = commands.add_parser(FORMER, parents=[everywhere], allow_abbrev=False)
    parser.set_defaults(command="encryption")
    parser.add_argument(
        "what",
        metavar="WHAT",
        choices=_VERBS,
        type=_present,
    )
    commands.choices = _Listed(commands.choices)
