"""The page that adopts a measurement error: what it rests on, and what comparisons make of it."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.agreement.adopt import Circumstances, sem_to_adopt
from ....core.agreement.few import ADOPTED, NUMBERS, too_few_words, typed_out
from ....core.agreement.own_file import Adopted, adopt
from ....core.agreement.study import Study
from ....core.agreement.use import preview
from ....core.agreement.words import sem_words
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.form_paint import title_row
from ...kit.line_edit import Prompt, line_spans, prompted
from ...kit.paint import Row, wrap
from ...kit.screen import PaintedScreen

LONGEST = 20
"""Characters of what is typed out."""

_ASKED = "type it out: "


class AdoptScreen(PaintedScreen[Adopted | None]):
    """Ends with what was adopted, or None when nothing was."""

    name_in_keymap = "adopt"

    def __init__(self, context: Context, title: str, study: Study, of: Circumstances) -> None:
        super().__init__(context)
        self._title = title
        self._study = study
        self._of = of
        self._words = typed_out(study)
        self._typed = Prompt()
        self._adopted: Adopted | None = None
        sem = sem_to_adopt(study, of, least=2)
        self._refused = sem if isinstance(sem, Problem) else None
        self._about = [] if isinstance(sem, Problem) else self._texts()

    def _texts(self) -> list[str]:
        catalogue = self.context.catalogue
        uses = preview(self._study, self._of, catalogue.own_errors, catalogue.settings)
        few = too_few_words(self._study)
        return [sem_words(self._study), *([f"It rests on {few}."] if few else []), *uses]

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint what is adopted; once it is, what was done."""
        rows: list[Row] = [title_row("adopt as the clinic's own", "", width), ()]
        rows += [*wrap(self._title, width, "title"), ()]
        if self._refused:
            return [*rows, *wrap(f"It cannot be adopted: {self._refused.what}.", width)]
        texts = self._done if self._adopted else self._about
        for text in texts:
            rows += [*wrap(text, width), ()]
        if self._adopted or not self._words:
            return rows
        ask = (
            f"Fewer than {ADOPTED} pairs are adopted only when their number is typed out: "
            f"{self._words}"
        )
        spans = line_spans(self._typed.line, width - len(_ASKED), "bold")
        return [*rows, *wrap(ask, width, "ask"), ((_ASKED, "bold"), *spans)]

    @property
    def _done(self) -> list[str]:
        assert self._adopted is not None
        return [*self._adopted.messages, *self._adopted.used(self.context.catalogue.settings)]

    def key_words(self) -> dict[str, str]:
        """Say that Enter only goes back once nothing is left to adopt."""
        return {"accept": "back"} if self._adopted or self._refused else {}

    def press(self, key: str, action: str) -> None:
        """Take what is typed out, or Enter where nothing must be."""
        over = bool(self._adopted or self._refused)
        if over or not self._words:
            if action == "leave" or (over and action == "accept"):
                self.dismiss(self._adopted)
            elif action == "accept":
                self._adopt()
            else:
                super().press(key, "")
            return
        self._typed = prompted(self._typed, key, action, LONGEST)
        if self._typed.outcome == "left":
            self.dismiss(None)
        elif self._typed.outcome == "accepted":
            self._accept()
        else:
            self.say(self._typed.message, ring=bool(self._typed.message))

    def _accept(self) -> None:
        typed = " ".join(self._typed.line.text.lower().split())
        self._typed = Prompt(self._typed.line)
        if typed == self._words:
            self._adopt()
        else:
            self.refuse(f"nothing was adopted: type {self._words}, in these words")

    def _adopt(self) -> None:
        least = NUMBERS.index(self._words.split()[0]) + 2 if self._words else ADOPTED
        adopted = adopt([(self._study, self._of)], least)
        if isinstance(adopted, Problem):
            self.refuse(str(adopted))
            return
        self._adopted = adopted
        self.say("adopted" if adopted.new else "")
