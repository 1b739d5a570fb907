"""One question of a set-up or a form, as every front end asks it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, and the answer that is there already.

    Attributes:
        name: key of its answer.
        label: what stands before it.
        hint: what goes here and within which limits, in one or two sentences.
        kind: "text", "number" (digits) or "choice".
        value: the answer so far: the text, or the id of a choice.
        last: what was answered last time, in words, for comparison; "" when nothing.
        choices: (id, words) of each choice.
        longest: characters that fit.
        accepts: the only characters taken, "" for any that can be printed.
        needed: it may not stay empty.
    """

    name: str
    label: str
    hint: str
    kind: Literal["text", "number", "choice"] = "text"
    value: str = ""
    last: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    longest: int = 40
    accepts: str = ""
    needed: bool = False
