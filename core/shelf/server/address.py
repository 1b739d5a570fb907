"""Where a shelf on a server is: ``postgresql://USER@HOST:PORT/DATABASE``."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import parse_qsl, unquote, urlsplit

from ...errors import ShelfError

SCHEMES = ("postgresql://", "postgres://")

_SECRET = ("pass", "secret", "scram")
"""What is in the names of parameters that say a secret, or where one is."""

_OURS = ("options", "application_name")
"""Parameters that the program says itself."""


@dataclass(frozen=True, slots=True)
class ServerAddress:
    """The address of a shelf on a server; no password is in it.

    Attributes:
        url: as typed.
        hosts: names of the hosts, () for the socket of this machine.
    """

    url: str
    hosts: tuple[str, ...]

    def __str__(self) -> str:
        return self.url

    @property
    def local(self) -> bool:
        """Whether nothing leaves this machine on the way to the server."""
        return all(map(_is_here, self.hosts))

    @property
    def mark(self) -> str:
        """A name for files of this machine that belong to the shelf there."""
        return hashlib.sha256(self.url.encode()).hexdigest()[:16]

    def unsaid(self) -> dict[str, str]:
        """What holds where neither the address nor the environment says anything.

        A server elsewhere has to prove that it is the one; of several hosts the one is wanted that
        can be written to.
        """
        said = dict(parse_qsl(urlsplit(self.url).query))
        wanted: dict[str, str] = {}
        if not (self.local or "sslmode" in said or os.environ.get("PGSSLMODE")):
            wanted["sslmode"] = "verify-full"
        several = len(self.hosts) > 1 and not os.environ.get("PGTARGETSESSIONATTRS")
        if several and "target_session_attrs" not in said:
            wanted["target_session_attrs"] = "read-write"
        return wanted


def is_address(text: str) -> bool:
    """Whether a text names a shelf on a server and not a folder."""
    return text.startswith(SCHEMES)


def address_of(text: str) -> ServerAddress:
    """Read the address of a shelf on a server.

    Raises:
        ShelfError: when it cannot be used, or has a password in it.
    """
    try:
        parts = urlsplit(text)
        said = dict(parse_qsl(parts.query, strict_parsing=True)) if parts.query else {}
    except ValueError as error:
        raise ShelfError(f"the address of the shelf cannot be read: {error}") from error
    user, at, where = parts.netloc.rpartition("@")
    names = {name.lower() for name in said}
    if ":" in unquote(user) or any(word in name for word in _SECRET for name in names):
        raise ShelfError(
            "The address of the shelf has a password or another secret in it, which other people "
            "on this machine could see: nothing was opened; leave it out, and put it into the "
            "file .pgpass of your account, closed with chmod 600, or into PGPASSWORD"
        )
    if names & set(_OURS):
        raise ShelfError(
            f"The address of the shelf may not say {' or '.join(_OURS)}: nothing was opened, "
            "leave that out"
        )
    if not parts.path.strip("/") or (at and not user):
        raise ShelfError(
            "The address of the shelf needs a database, as in postgresql://USER@HOST:PORT/DATABASE"
        )
    hosts = tuple(_host(each) for each in where.split(",")) if where else ()
    if "host" in said:
        hosts = (*hosts, *said["host"].split(","))
    hosts = hosts or _listed(os.environ.get("PGHOST", ""))
    where_to = said.get("hostaddr") or os.environ.get("PGHOSTADDR", "")  # goes before a name
    return ServerAddress(text, (*hosts, *_listed(where_to)))


def _host(text: str) -> str:
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0].replace("%2F", "/").replace("%2f", "/")


def _listed(text: str) -> tuple[str, ...]:
    return tuple(text.split(",")) if text else ()


def _is_here(host: str) -> bool:
    """Whether a host is this machine: its socket, or an address that leads back to it."""
    if host in ("", "localhost") or host.startswith(("/", "@")):
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:  # a name, whatever it begins with
        return False
