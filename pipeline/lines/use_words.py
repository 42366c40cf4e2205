"""What the wording of a line says of its use in the dish: optional, an alternative, made above.

``use_words`` reads a text once for all recipes that hold it; the same is asked of a section. The
patterns are in ``shared/dish_phrases.csv``.
"""

from __future__ import annotations

import re
from functools import lru_cache

from pipeline.phrases import Phrase, phrases, plain_spaces

_WORD = re.compile(r"[^\W\d_]+")
_PARTS = re.compile(r"[,;:()\[\]]|\s[-–—]\s|\*")
_MEASURES = frozenset(
    ["cup", "cups", "g", "ml", "oz", "ounces", "tbsp", "tsp", "batch", "of", "the", "all", "prepared"]
)  # fmt: skip


def dish_phrase(name: str) -> Phrase:
    """A phrase of ``shared/dish_phrases.csv``."""
    return phrases("dish_phrases.csv")[name]


def plain_words(text: str) -> tuple[str, ...]:
    """Lower-case words of a text."""
    return tuple(w.lower() for w in _WORD.findall(text))


class UseWords:
    """The answers about one text, each looked for when it is asked.

    Attributes:
        text: the line or section.
    """

    __slots__ = ("text",)

    def __init__(self, text: str) -> None:
        self.text = plain_spaces(text)

    def says(self, phrase: str) -> bool:
        """Whether the text has a phrase of ``shared/dish_phrases.csv``."""
        return dish_phrase(phrase).found(self.text)

    @property
    def optional(self) -> bool:
        """A part of it makes the whole line optional, and not a work or another choice."""
        if not self.says("optional_hint"):
            return False
        optional, work, choice = map(
            dish_phrase, ("optional_part", "optional_work", "other_choice")
        )
        parts = [p for part in _PARTS.split(self.text) if (p := part.strip(" .+&"))]
        for at, part in enumerate(parts):
            if not optional.found(part) or choice.found(part):
                continue
            of_work = at > 1 and work.found(parts[at - 1])
            return not of_work and not work.found(part)
        return False

    @property
    def without_extra(self) -> str:
        """The text without what is done with more than the line's amount."""
        extra = dish_phrase("extra")
        return extra.pattern.sub(" ", self.text) if extra.found(self.text) else self.text

    @property
    def without_use(self) -> str:
        """The text without parentheses, notes and what the food is for."""
        return dish_phrase("use").pattern.sub(" ", self.text)

    @property
    def name(self) -> tuple[str, ...]:
        """Words of what it names, without measures and what it is for."""
        found = plain_words(dish_phrase("behind_name").pattern.sub(" ", self.text))
        return tuple(w for w in found if w not in _MEASURES)

    @property
    def words_of_name(self) -> tuple[str, ...]:
        """Words of three letters and more, without parentheses and what stands after a comma."""
        return tuple(w for w in plain_words(_ASIDE.sub("", self.text)) if len(w) > 2)

    def from_the(self, noun: str) -> bool:
        """Whether it takes something "from the" ``noun``."""
        return re.search(rf"\bfrom (?:the )?{re.escape(noun)}", self.text, re.I) is not None


_ASIDE = re.compile(r"\([^)]*\)|,.*$")


@lru_cache(maxsize=32_768)
def use_words(text: str) -> UseWords:
    """What a text says of its use."""
    return UseWords(text)
