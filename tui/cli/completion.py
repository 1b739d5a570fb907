"""``limbscribe completion SHELL``: a script that completes commands, options and values.

The scripts are made from the parser, hold nothing but its words, and start no program while
somebody types. Patient codes are never completed: a list of them is nobody's business.
"""

from __future__ import annotations

import shlex
from argparse import Namespace
from collections.abc import Callable, Iterable

from ..terminal.output import OK, say
from .surface import Command, Word, surface

_FOLDERS = ("DIR",)
_FILES = ("FILE", "FILE.csv", "PATH")


def run(args: Namespace) -> int:
    """Print the script."""
    for line in _SCRIPTS[args.shell](surface()):
        say(line)
    return OK


def _kind(word: Word) -> str:
    """What completes a value: "words", "folders", "files", or "" for nothing."""
    if word.choices:
        return "words"
    return "folders" if word.value in _FOLDERS else "files" if word.value in _FILES else ""


def _names(command: Command) -> str:
    return " ".join(name for option in command.options for name in option.names)


def _values(commands: Iterable[Command]) -> dict[tuple[str, str], Word]:
    """Every option with a value, by command and name."""
    return {
        (command.name, name): option
        for command in commands
        for option in command.options
        for name in option.names
        if option.value
    }


# bash -----------------------------------------------------------------------------------

_BASH = {
    "words": 'COMPREPLY=($(compgen -W {words} -- "$cur"))',
    "folders": 'compopt -o filenames; COMPREPLY=($(compgen -d -- "$cur"))',
    "files": 'compopt -o filenames; COMPREPLY=($(compgen -f -- "$cur"))',
    "": "COMPREPLY=()",
}


def _bash(commands: tuple[Command, ...]) -> list[str]:
    program, *rest = commands
    values = _values(commands)
    takers = "|".join(sorted({name for _, name in values}))
    lines = [
        "# bash completion for limbscribe",
        "_limbscribe() {",
        "    local cur prev command='' word",
        "    local -i i",
        "    COMPREPLY=()",
        '    cur="${COMP_WORDS[COMP_CWORD]}"',
        '    prev="${COMP_WORDS[COMP_CWORD-1]}"',
        "    for ((i = 1; i < COMP_CWORD; i++)); do",
        '        word="${COMP_WORDS[i]}"',
        '        case "$word" in',
        f"            {takers}) i=i+1 ;;",
        "            -*) ;;",
        '            *) command="$word"; break ;;',
        "        esac",
        "    done",
        '    case "$command:$prev" in',
    ]
    for (name, option), word in values.items():
        lines.append(f"        {name}:{option}) {_in_bash(word)}; return ;;")
    lines += ["    esac", '    case "$command" in']
    for command in commands:
        offered = _names(command)
        if command is program:
            offered += " " + " ".join(one.name for one in rest)
        lines += [f"        {command.name or chr(39) * 2})", *_bash_words(command, offered)]
    lines += ["    esac", "}", "complete -F _limbscribe limbscribe"]
    return lines


def _bash_words(command: Command, offered: str) -> list[str]:
    here = f'            COMPREPLY=($(compgen -W {shlex.quote(offered)} -- "$cur"))'
    other = next((_in_bash(word) for word in command.arguments if _kind(word)), "")
    if not other:
        return [f"{here} ;;"]
    # A word that begins with a minus is an option, any other is the argument.
    return [f"            if [[ $cur != -* ]]; then {other}; return; fi", f"{here} ;;"]


def _in_bash(word: Word) -> str:
    return _BASH[_kind(word)].replace("{words}", shlex.quote(" ".join(word.choices)))


# zsh ------------------------------------------------------------------------------------

_ZSH = {"folders": "_files -/", "files": "_files", "": " "}


def _zsh(commands: tuple[Command, ...]) -> list[str]:
    program, *rest = commands
    lines = [
        "#compdef limbscribe",
        "_limbscribe() {",
        '    local curcontext="$curcontext" state line',
        "    local -a commands",
        "    commands=(",
        *(f"        {shlex.quote(f'{one.name}:{one.summary}')}" for one in rest),
        "    )",
        "    _arguments -C \\",
        *(f"        {spec} \\" for option in program.options for spec in _zsh_option(option)),
        "        '1:command:->command' '*::argument:->argument'",
        "    case $state in",
        "        command) _describe command commands ;;",
        "        argument) case $line[1] in",
    ]
    for command in rest:
        specs = [spec for option in command.options for spec in _zsh_option(option)]
        specs += [f"'::{_zsh_text(word.value)}:{_in_zsh(word)}'" for word in command.arguments]
        lines.append(f"            {command.name}) _arguments {' '.join(specs)} ;;")
    return [*lines, "        esac ;;", "    esac", "}", '_limbscribe "$@"']


def _zsh_option(option: Word) -> list[str]:
    value = f":{_zsh_text(option.value)}:{_in_zsh(option)}" if option.value else ""
    about = _zsh_text(option.about)
    return [shlex.quote(f"{name}[{about}]{value}") for name in option.names]


def _in_zsh(word: Word) -> str:
    return f"({' '.join(word.choices)})" if word.choices else _ZSH[_kind(word)]


def _zsh_text(text: str) -> str:
    """Text for a description: what _arguments would read as its own is taken out."""
    kept = text.replace("[", "(").replace("]", ")").replace(":", ";")
    return kept.replace("'", "").replace("\\", "")


# fish -----------------------------------------------------------------------------------

_FISH = {"folders": "-x -a '(__fish_complete_directories)'", "files": "-r -F", "": "-x"}


def _fish(commands: tuple[Command, ...]) -> list[str]:
    program, *rest = commands
    names = " ".join(one.name for one in rest)
    lines = ["# fish completion for limbscribe", "complete -c limbscribe -f"]
    without = f"-n 'not __fish_seen_subcommand_from {names}'"
    lines += [f"complete -c limbscribe {without} {_fish_option(o)}" for o in program.options]
    for command in rest:
        about = _fish_text(command.summary)
        lines.append(f"complete -c limbscribe {without} -a {command.name} -d {about}")
        within = f"-n '__fish_seen_subcommand_from {command.name}'"
        lines += [f"complete -c limbscribe {within} {_fish_option(o)}" for o in command.options]
        lines += [
            f"complete -c limbscribe {within} {_in_fish(word, argument=True)}"
            for word in command.arguments
            if _kind(word)
        ]
    return lines


def _fish_option(option: Word) -> str:
    flags = " ".join(
        f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}" for name in option.names
    )
    value = f" {_in_fish(option)}" if option.value else ""
    return f"{flags} -d {_fish_text(option.about)}{value}"


def _in_fish(word: Word, argument: bool = False) -> str:
    if word.choices:
        return f"{'' if argument else '-x '}-a '{' '.join(word.choices)}'"
    return "-F" if argument and _kind(word) == "files" else _FISH[_kind(word)]


def _fish_text(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"


_SCRIPTS: dict[str, Callable[[tuple[Command, ...]], list[str]]] = {
    "bash": _bash,
    "zsh": _zsh,
    "fish": _fish,
}
