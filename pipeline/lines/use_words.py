"""What the wording of a line says of its use in the dish: optional, an alternative, made above.

``use_words`` reads a text once for all recipes that hold it. The same words are asked of a section.
"""

from __future__ import annotations

import re
from functools import lru_cache

_WORD = re.compile(r"[^\W\d_]+")
_OR_LINE = re.compile(r"^\W*or\s+(?=\S)", re.IGNORECASE)
_OR_END = re.compile(r"[\s(]or\s*[:)]*\s*$", re.IGNORECASE)
_OF_CHOICE = re.compile(r"\b(?:of (?:your )?choice|any|your favou?rite)\b", re.IGNORECASE)
#: A part of a line, between commas and brackets, that makes the whole line optional.
_OPTIONAL_PART = re.compile(
    r"^(?:to (?:serve|garnish|taste|top)\s+)?optional(?:ly)?\b"
    r"|^(?:if|as) (?:desired|liked|wanted|using|you like|you wish)\s*$"
    r"|\boptional$",
    re.IGNORECASE,
)
_OPTIONAL_HINT = re.compile(r"optional|if |as ", re.IGNORECASE)
_PARTS = re.compile(r"[,;:()\[\]]|\s[-–—]\s|\*")
#: Work that is optional, where the food is not: "chopped, toasted if desired".
_WORK = re.compile(r"^(?:\w+ly\s+)?\w+ed\b", re.IGNORECASE)
_OTHER_CHOICE = re.compile(r"recommend|\bor\b", re.IGNORECASE)
_ABOVE = re.compile(
    r"\b(?:from|made|recipe|see|as|ingredients?|mixture)\s+(?:the\s+)?(?:ingredients?\s+|recipe\s+)?above\b"
    r"|\babove\s+(?:recipe|mixture)\b|\(above\)|\bmade (?:above|earlier|before|previously)\b",
    re.IGNORECASE,
)
_ALL_ABOVE = re.compile(r"\bingredients?\s+(?:from\s+)?above\b", re.IGNORECASE)
_REST = re.compile(r"\b(?:reserved|remaining|rest of)\b", re.IGNORECASE)
_REFERS = re.compile(
    r"\b(?:all|half|most|some|quarter|third|\d+\s*/\s*\d+|½|⅓|¼|\bg|\bml|cups?|tbsp|oz)\s+of\s+the\b|\bthe\b|\bprepared\b",
    re.IGNORECASE,
)
#: What is done to a food before it is used again: "browned butter", "toasted coconut".
_MADE = re.compile(
    r"\b(?:brown(?:ed)?|toasted|clarified|whipped|caramelized|caramelised|infused|roasted|melted"
    r"|cooled|candied|pickled|steeped)\b",
    re.IGNORECASE,
)
_FRYING = re.compile(
    r"\b(?:fry|frying|fried|searing|sear|saut[eé]\w*|for cooking|for the pan)\b", re.IGNORECASE
)
_GREASING = re.compile(r"\b(?:greas\w+|oiling|coating|brush\w*)\b", re.IGNORECASE)
_BESIDE = re.compile(
    r"\b(?:serv(?:e|ing)|garnish\w*|topping\w*|top|side|decorat\w+|accompany|dipping|drizzl\w+|finish\w*)\b",
    re.IGNORECASE,
)  # fmt: skip
#: "plus more for greasing" says what is done with more than the line's amount.
_EXTRA = re.compile(
    r"(?:\bplus\b|\band\b|\bwith\b|\+|&)\s+(?:a\s+\w+\s+)?(?:more|extra|additional)\b.*", re.I
)
_EXTRA_HINTS = ("more", "extra", "additional")
_USE = re.compile(
    r"\([^)]*\)|,.*$|\bto taste\b|\bfor \w+.*$|\bto (?:serve|garnish).*$"
)  # fmt: skip
#: Behind these stands what a line is for, or how it is prepared.
_TAIL = re.compile(r"\([^)]*\)?|,.*$|\b(?:for|to|from|as|plus|divided)\b.*$", re.IGNORECASE)
_MEASURES = frozenset(
    ["cup", "cups", "g", "ml", "oz", "ounces", "tbsp", "tsp", "batch", "of", "the", "all", "prepared"]
)  # fmt: skip


class UseWords:
    """The answers about one text.

    Attributes:
        or_first: it begins with "or".
        or_last: it ends with "or": the next line is the other choice.
        optional: a part of it makes the whole line optional.
        above: it speaks of what stands above it.
        rest: it speaks of what is left of something.
        made: it names a food to which something has been done: "browned butter".
    """

    __slots__ = ("_text", "above", "made", "optional", "or_first", "or_last", "rest")

    def __init__(self, text: str) -> None:
        self._text = text
        low = text.lower()
        self.or_first = _OR_LINE.match(text) is not None
        self.or_last = "or" in low and _OR_END.search(text) is not None
        self.optional = _OPTIONAL_HINT.search(text) is not None and _is_optional(text)
        self.above = ("above" in low or "made" in low) and _ABOVE.search(text) is not None
        self.rest = "re" in low and _REST.search(text) is not None
        self.made = ("ed" in low or "brown" in low) and _MADE.search(text) is not None

    @property
    def of_choice(self) -> bool:
        """Any food of a kind: "cheese of your choice"."""
        return _OF_CHOICE.search(self._text) is not None

    @property
    def all_above(self) -> bool:
        """It takes all the ingredients above."""
        return _ALL_ABOVE.search(self._text) is not None

    @property
    def refers(self) -> bool:
        """It speaks of something known already: "half of the dough"."""
        return _REFERS.search(self._text) is not None

    @property
    def for_frying(self) -> bool:
        """Something is fried in it."""
        return _FRYING.search(self._text) is not None

    @property
    def for_greasing(self) -> bool:
        """A tin or dough is greased or brushed with it."""
        return _GREASING.search(self._text) is not None

    @property
    def beside(self) -> bool:
        """It is served beside or on top."""
        return _BESIDE.search(self._text) is not None

    @property
    def without_extra(self) -> str:
        """The text without what is done with more than the line's amount."""
        low = self._text.lower()
        return _EXTRA.sub(" ", self._text) if any(h in low for h in _EXTRA_HINTS) else self._text

    @property
    def without_use(self) -> str:
        """The text without parentheses, notes and what the food is for."""
        return _USE.sub(" ", self._text)

    @property
    def name(self) -> tuple[str, ...]:
        """Words of what it names, without measures and what it is for."""
        found = (w.lower() for w in _WORD.findall(_TAIL.sub(" ", self._text)))
        return tuple(w for w in found if w not in _MEASURES)

    def from_the(self, noun: str) -> bool:
        """Whether it takes something "from the" ``noun``."""
        return re.search(rf"\bfrom (?:the )?{re.escape(noun)}", self._text, re.I) is not None


def _is_optional(text: str) -> bool:
    """A part of the line says so of the whole line, and not of a work or another choice."""
    parts = [p for part in _PARTS.split(text) if (p := part.strip(" .+&"))]
    for at, part in enumerate(parts):
        if not _OPTIONAL_PART.search(part) or _OTHER_CHOICE.search(part):
            continue
        of_work = at > 1 and _WORK.match(parts[at - 1]) is not None
        return not of_work and not _WORK.match(part)
    return False


@lru_cache(maxsize=32_768)
def use_words(text: str) -> UseWords:
    """What a text says of its use."""
    return UseWords(text)
