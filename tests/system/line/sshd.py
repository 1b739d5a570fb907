"""A real SSH server of our own on the loopback: its own keys, its own port, nothing system-wide."""

from __future__ import annotations

import os
import pwd
import shlex
import shutil
import socket
import subprocess
import time
from pathlib import Path

from tests.support.ports import free_port
from tests.support.terminal import PATIENCE_S, PROGRAM, Terminal, shelf_args

CONFIG = """\
ListenAddress 127.0.0.1
Port {port}
HostKey {folder}/host
PidFile none
AuthorizedKeysFile {folder}/user.pub
PubkeyAuthentication yes
PasswordAuthentication no
KbdInteractiveAuthentication no
UsePAM no
StrictModes no
PermitRootLogin prohibit-password
PermitUserEnvironment no
PrintMotd no
PrintLastLog no
ClientAliveInterval {alive_s}
ClientAliveCountMax 2
"""
SEPARATION = Path("/run/sshd")
"""The empty folder that a server run by root insists on; Debian's service makes it at boot.

It stays, as another test may have a server at the same time.
"""


class Server:
    """A server that lets the present user in with a key made for one test.

    Args:
        folder: of its keys, its settings and its log.
        alive_s: s after which a silent client is asked whether it is there, and s that it then
            has twice; 0 for never, as a busy machine may let a client be silent for long.
    """

    def __init__(self, folder: Path, alive_s: int = 0) -> None:
        self.folder = folder
        for name in ("host", "user"):
            command = ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(folder / name)]
            subprocess.run(command, check=True)
        self.port = free_port()
        config = folder / "config"
        config.write_text(CONFIG.format(port=self.port, folder=folder, alive_s=alive_s))
        if os.geteuid() == 0:
            SEPARATION.mkdir(mode=0o755, exist_ok=True)
        program = shutil.which("sshd", path="/usr/sbin:/usr/local/sbin:/sbin:/usr/bin")
        assert program, "install openssh-server"
        # It starts itself anew for every connection and so wants its full path.
        self._process = subprocess.Popen(
            [program, "-D", "-e", "-f", str(config)],
            stderr=(folder / "log").open("wb"),
        )
        self._wait()

    def _wait(self) -> None:
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise AssertionError(f"the server did not start: {(self.folder / 'log').read_text()}")

    def login(self, shelf: Path) -> Terminal:
        """The program in a terminal at the far end of a connection."""
        command = shlex.join(("env", "LANG=C.UTF-8", *PROGRAM, *shelf_args(shelf)))
        options = {
            "IdentityFile": self.folder / "user",
            "IdentitiesOnly": "yes",
            "IdentityAgent": "none",
            "UserKnownHostsFile": self.folder / "known",
            "GlobalKnownHostsFile": "/dev/null",
            "StrictHostKeyChecking": "accept-new",
        }
        settings = [f"-o{name}={value}" for name, value in options.items()]
        user = pwd.getpwuid(os.geteuid()).pw_name
        where = ("-p", str(self.port), f"{user}@127.0.0.1")
        return Terminal(program=("ssh", "-F", "none", "-tt", *settings, *where, command))

    def stop(self) -> None:
        """End the server."""
        self._process.terminate()
        self._process.wait(PATIENCE_S)
