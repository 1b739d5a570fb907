"""Certificates for servers of our own, made here and worth nothing anywhere else."""

from __future__ import annotations

import datetime
import os
import shutil
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests.support.postgres import ADMIN, Postgres

HOST = "shelf.invalid"


class Authority:
    """Who signs certificates.

    Attributes:
        path: its own certificate, for those who trust it.
    """

    def __init__(self, folder: Path, name: str) -> None:
        self._key = ec.generate_private_key(ec.SECP256R1())
        self._name = _named(name)
        made = _made(self._name, self._name, self._key).add_extension(
            x509.BasicConstraints(ca=True, path_length=None), critical=True
        )
        self.path = folder / f"{name}.pem"
        self.path.write_bytes(_pem(made.sign(self._key, hashes.SHA256())))
        self.path.chmod(0o644)

    def equip(self, server: Postgres, host: str) -> None:
        """Give a server a certificate for a host name, and let it be started anew."""
        key = ec.generate_private_key(ec.SECP256R1())
        made = _made(_named(host), self._name, key).add_extension(
            x509.SubjectAlternativeName([x509.DNSName(host)]), critical=False
        )
        written = {
            "server.crt": _pem(made.sign(self._key, hashes.SHA256())),
            "server.key": key.private_bytes(
                serialization.Encoding.PEM,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            ),
        }
        for name, data in written.items():
            path = server.folder / name
            path.write_bytes(data)
            path.chmod(0o600)
            if os.geteuid() == 0:
                shutil.chown(path, ADMIN, ADMIN)
        server.settings |= {
            "ssl": "on",
            "ssl_cert_file": str(server.folder / "server.crt"),
            "ssl_key_file": str(server.folder / "server.key"),
        }


def _named(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _made(
    name: x509.Name, by: x509.Name, key: ec.EllipticCurvePrivateKey
) -> x509.CertificateBuilder:
    now = datetime.datetime.now(datetime.UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(by)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
    )


def _pem(made: x509.Certificate) -> bytes:
    return made.public_bytes(serialization.Encoding.PEM)
