"""The matrix in pseudo-terminals, a part of it in tmux over a real SSH connection.

Not in full size a covering subset is walked, in which every two settings meet.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from collections import Counter, defaultdict
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from limbscribe.core.tardieu.figure import FIGURE
from limbscribe.tui.kit.body import MARKS
from limbscribe.tui.plot.signs import BAND, BOTH_GAPS, LOWER, SHARED, UPPER

from tests.support.sizes import FULL
from tests.support.terminal import PROGRAM, Terminal, shelf_args
from tests.system.line.sshd import Server

from .cases import Case, covering_cases, every_case, pairs_of
from .walk import COUNTED, Seen, Walk, start, wrong_keys

AT_ONCE = 4
SCREENS = 15
"""Looked at in every walk, at the least."""


def report(title: str, walks: dict[Case, Seen]) -> Counter[str]:
    """Print what was counted over all walks."""
    counts: Counter[str] = Counter(dict.fromkeys(COUNTED, 0))
    for seen in walks.values():
        counts.update(seen.counts)
    screens = sum(len(seen.screens) for seen in walks.values())
    told = ", ".join(f"{kind} {counts[kind]}" for kind in COUNTED)
    print(f"\n{title}: {len(walks)} walks, {screens} screens; {told}")
    for seen in walks.values():
        for note in seen.notes:
            print(note)
    return counts


def differing(walks: dict[Case, Seen]) -> list[str]:
    """Screens whose text is not the same in every terminal and colour of one size.

    What is said by colour alone would make no difference to the text, and what only colour shows
    to be there would be missing without it: the text is all there is, so it must be equal.
    """
    groups: dict[tuple[object, ...], dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for case, seen in walks.items():
        for name, text in seen.screens.items():
            groups[case.size, case.plain][name].add(text)
    return [
        f"{size} {name}: {len(texts)} texts\n" + "\n----\n".join(sorted(texts))
        for size, names in groups.items()
        for name, texts in names.items()
        if len(texts) > 1
    ]


@pytest.mark.deep
def test_every_terminal_locale_size_and_colour(tmp_path: Path):
    cases = every_case() if FULL else covering_cases()

    def walked(case: Case) -> Seen:
        folder = tmp_path / str(cases.index(case))
        folder.mkdir()
        return Walk(case, start(case, folder)).go()

    # A walk mostly waits for a screen to come to rest.
    with ThreadPoolExecutor(AT_ONCE) as pool:
        walks = dict(zip(cases, pool.map(walked, cases), strict=True))
    counts = report("matrix", walks)
    lost = differing(walks)
    print(f"meaning lost without colour {len(lost)}")
    assert not counts.total(), counts
    assert not lost, lost[0]
    assert all(len(seen.screens) >= SCREENS for seen in walks.values())


def test_the_covering_subset_covers_every_pair():
    pairs = set().union(*map(pairs_of, every_case()))
    assert set().union(*map(pairs_of, covering_cases())) == pairs
    assert len(covering_cases()) < len(every_case()) / 8


def test_a_cut_line_of_keys_is_found():
    """The check of the walk can fail."""
    assert wrong_keys("Enter chart  ? help  s session", "opening") == ""
    assert "s sess" in wrong_keys("Enter chart  ? help  s sess", "opening")
    assert wrong_keys("", "opening")


def test_every_mark_has_a_sign_of_its_own():
    signs = [sign for sign, _ in MARKS.values()]
    assert len(set(signs)) == len(signs) == 5
    assert not set(signs) & set("".join(FIGURE))
    drawn = [*LOWER.marks, *UPPER.marks, LOWER.gap, UPPER.gap, SHARED, BOTH_GAPS, *BAND.values()]
    assert len(set(drawn)) == len(drawn)


@pytest.mark.parametrize("command", [(), ("demo",), ("drill",), ("enter", "ZZ-41")])
@pytest.mark.parametrize("term", ["dumb", "unknown", ""])
def test_a_terminal_that_cannot_draw_is_told_of_the_plain_way(
    tmp_path: Path, term: str, command: tuple[str, ...]
):
    settings = {"TERM": term, "HOME": str(tmp_path)}
    shelf = shelf_args(tmp_path / "shelf")
    terminal = Terminal(*command, *shelf, environment=settings)
    assert os.WEXITSTATUS(terminal.ended()) == 2
    said = " ".join(terminal.raw.decode().split())
    assert "cannot draw the screens; nothing was opened" in said
    assert "limbscribe enter CODE --plain" in said
    assert b"\x1b" not in terminal.raw
    assert not (tmp_path / "shelf").exists()


OVER_SSH = (
    Case("xterm", "C.UTF-8", (60, 20), ""),
    Case("xterm-256color", "C", (80, 24), "NO_COLOR"),
    Case("linux", "C.UTF-8", (120, 40), "--ascii"),
)


def far_away(server: Server, case: Case, folder: Path) -> Terminal:
    """The program in tmux at the far end of an SSH connection; the terminal is the near end."""
    columns, lines = case.size
    settings = {**case.environment, "HOME": str(folder)}
    settings.pop("TERM")  # tmux says what it is itself
    inside = ["env", *(f"{name}={value}" for name, value in settings.items())]
    inside += [*PROGRAM, *shelf_args(folder / "shelf"), *case.args]
    config = folder / "tmux.conf"
    config.write_text("set -g status off\n")
    tmux = ["env", f"TMUX_TMPDIR={folder}", f"LANG={case.locale}", "tmux", "-f", str(config)]
    command = shlex.join([*tmux, "new-session", shlex.join(inside)])
    options = (
        f"-oIdentityFile={server.folder / 'user'}",
        "-oIdentitiesOnly=yes",
        "-oIdentityAgent=none",
        f"-oUserKnownHostsFile={server.folder / 'known'}",
        "-oGlobalKnownHostsFile=/dev/null",
        "-oStrictHostKeyChecking=accept-new",
        "-oLogLevel=ERROR",
        f"-p{server.port}",
    )
    return Terminal(
        "-F", "none", "-tt", *options, "127.0.0.1", command,
        program=("ssh",), columns=columns, lines=lines, environment={"TERM": case.term},
    )  # fmt: skip


@pytest.mark.tools
def test_in_tmux_over_ssh(tmp_path: Path):
    folder = tmp_path / "sshd"
    folder.mkdir()
    server = Server(folder)
    walks: dict[Case, Seen] = {}
    try:
        for number, case in enumerate(OVER_SSH):
            home = tmp_path / str(number)
            home.mkdir()
            try:
                walks[case] = Walk(case, far_away(server, case, home)).go()
            finally:
                # Ends only what this test began: the server of this folder.
                subprocess.run(
                    ["tmux", "kill-server"],
                    env={**os.environ, "TMUX_TMPDIR": str(home)},
                    capture_output=True,
                    check=False,
                )
    finally:
        server.stop()
    counts = report("tmux over ssh", walks)
    assert not counts.total(), counts
    assert all(len(seen.screens) >= SCREENS for seen in walks.values())
