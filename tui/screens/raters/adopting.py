"""The page that adopts a measurement error: what it rests on, and what comparisons make of it."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.agreement.adopt import Circumstances, sem_to_adopt
from ....core.agreement.few import ADOPTED, number_of, too_few_words, typed_out
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
        sem = sem_to_adopt(study, of, least=0)
        self._refused = isinstance(sem, Problem)
        self._about = [str(sem)] if isinstance(sem, Problem) else self._effects()

    def _effects(self) -> list[str]:
        """Say what would be adopted, what it rests on, and what comparisons would make of it."""
        catalogue = self.context.catalogue
        uses = preview(self._study, self._of, catalogue.own_errors, catalogue.settings)
        few = too_few_words(self._study)
        return [sem_words(self._study), *([f"It rests on {few}."] if few else []), *uses]

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint what is adopted; once it is, what was done."""
        head = [
            title_row("adopt as the clinic's own", "", width),
            *wrap(self._title, width, "title"),
        ]
        ask = self._question(width)
        blocks = [wrap(text, width) for text in self._texts]
        # Empty rows between where there is room; the question is always in sight.
        roomy = sum(map(len, (head, ask, *blocks))) + len(blocks) + 2 <= height
        gap: list[Row] = [()] if roomy else []
        rows = [*gap, *(row for block in blocks for row in (*block, *gap))]
        return [*head, *rows[: max(0, height - len(head) - len(ask))], *ask]

    @property
    def _texts(self) -> Sequence[str]:
        if self._adopted:
            settings = self.context.catalogue.settings
            return [*self._adopted.messages, *self._adopted.used(settings)]
        return self._about

    def _question(self, width: int) -> list[Row]:
        """Ask for the number in words; nothing where none must be typed."""
        if self._over or not self._words:
            return []
        ask = f"Fewer than {ADOPTED} are adopted only when typed out: {self._words}"
        spans = line_spans(self._typed.line, width - len(_ASKED), "bold")
        return [*wrap(ask, width, "ask"), ((_ASKED, "bold"), *spans)]

    @property
    def _over(self) -> bool:
        """Whether nothing is left to adopt."""
        return self._refused or self._adopted is not None

    def key_words(self) -> dict[str, str]:
        """Say that Enter only goes back once nothing is left to adopt."""
        return {"accept": "back"} if self._over else {}

    def press(self, key: str, action: str) -> None:
        """Take what is typed out, or Enter where nothing must be."""
        if self._over or not self._words:
            if action == "leave" or (self._over and action == "accept"):
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
        adopted = adopt([(self._study, self._of)], number_of(self._words.partition(" ")[0]))
        if isinstance(adopted, Problem):
            self.refuse(f"Nothing was adopted. {adopted}")
            return
        self._adopted = adopted
        self.say("adopted" if adopted.new else "")
