"""Finding something by a few letters of its name, the same wherever letters are typed."""

from __future__ import annotations


def names(words: str, letters: str) -> bool:
    """Whether every word of the letters begins a word of a name, large or small; never for none.

    Args:
        words: the name, with an abbreviation and an id as far as there are any.
        letters: what was typed.
    """
    wanted, there = (text.casefold().replace("-", " ").split() for text in (letters, words))
    return bool(wanted) and all(any(word.startswith(one) for word in there) for one in wanted)
