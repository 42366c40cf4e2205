"""What the wording of a line says beside amount, name and states, for the stages that need it.

Read on demand from the text, since few lines are asked; the patterns are rows of
``shared/remark_phrases.csv``. ``ParsedLine.remarks`` gives it; later
stages ask here and in ``use_words`` rather than search the text.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from pipeline.foods.words import words
from pipeline.phrases import Phrase, phrases, plain_spaces
from pipeline.resources import column_of

if TYPE_CHECKING:
    from pipeline.lines.model import Measure

#: Longer lines are read up to here and say so.
MAX_CHARS = 1_000
_WORD = re.compile(r"[a-z][a-z-]*")
_CM_PER_INCH = 2.54
#: Work that is not done: "not peeled", "no need to peel".
_DENIED = Phrase(r"\b(?:not|never|no need to|(?:do|need)n't)\s[^,;()]*")


def remark_phrase(name: str) -> Phrase:
    """A phrase of ``shared/remark_phrases.csv``, compiled when it is first looked for."""
    return phrases("remark_phrases.csv")[name]


class Remarks:
    """The answers about one line.

    Attributes:
        words: all words of the line in their order, in the form of ``foods.words.words``; the other
            answers leave out what the line says is not done.
    """

    __slots__ = ("_low", "_text")

    def __init__(self, text: str) -> None:
        self._text = plain_spaces(text[:MAX_CHARS]).replace("_", " ")
        self._low = low = self._text.lower()
        if _DENIED.found(low):
            self._low = _DENIED.pattern.sub(lambda m: " " * len(m[0]), low)

    @property
    def words(self) -> tuple[str, ...]:
        return words(self._text)

    def words_before(self, name: str) -> tuple[str, ...]:
        """The words in front of the food's name, in the form of ``words``."""
        return words(self._text[: self._low.find(name[:12])])

    def says(self, phrase: str) -> bool:
        """Whether the line has a phrase of ``shared/remark_phrases.csv``."""
        return remark_phrase(phrase).found(self._low)

    def in_brackets(self, note: str) -> bool:
        """Whether a note of the line stands alone in brackets: "(butternut)"."""
        return f"({note})" in self._low

    # --- how the thing is sold, how wide it is ---------------------------------------------

    @property
    def market(self) -> str:
        """``us``, ``uk`` (with the rest of the metric world) or "" when signs are none or mixed."""
        known = column_of("market_words.csv", "word", "market")
        signs = {known[word] for word in _WORD.findall(self._low) if word in known}
        return signs.pop() if len(signs) == 1 else ""

    @property
    def across_cm(self) -> float:
        """Width or length in cm of the thing itself ("10-inch tortillas"), else 0.

        A size to which the thing is cut ("cut into 1-inch chunks") is none.
        """
        for hit in remark_phrase("across").pattern.finditer(self._low):
            if remark_phrase("cut_to").found(self._low[: hit.start()]):
                continue
            wide = float(hit["n"])
            if hit["m"]:
                wide = (wide + float(hit["m"])) / 2
            return wide if hit["cm"] else wide * _CM_PER_INCH
        return 0.0

    # --- what was done after the amount was measured ---------------------------------------

    @property
    def worked_after(self) -> str:
        """Work after a comma or in parentheses that changes the volume: "cream, whipped"."""
        hit = remark_phrase("worked").pattern.search(self._low)
        return hit[1] if hit is not None else ""

    def taken_off(self, measure: Measure, what: Literal["inedible", "trimmings"]) -> bool:
        """Whether peel, stone, bone and the like, or trimmings, come off behind ``measure``.

        Only words set off by a comma, parenthesis, dash or "then" count: in front of them the
        weight is of what is left.
        """
        rest = self._low[measure.of_text[1] :]
        hit = remark_phrase(f"{what}_off").pattern.search(rest)
        if hit is None:
            return False
        between = rest[: hit.start()]
        opened = between.rfind("(") > between.rfind(")")
        return remark_phrase("apart").found(between) and not (
            opened and remark_phrase("prepared_weight").found(rest[hit.start() :])
        )

    def drained_before(self, measure: Measure) -> bool:
        """Whether "drained" stands in front of the amount, which is then of what is left."""
        return -1 < self._low.find("drained") < measure.of_text[0]

    @property
    def rinsed_from_tin(self) -> bool:
        """A tin's content is rinsed, and so drained."""
        return self.says("rinsed") and self.says("tinned")

    # --- amounts beside one another --------------------------------------------------------

    def each_or_all(self, measure: Measure) -> str:
        """What it is said to be of: ``each``, ``all`` ("2 tins = 800 g") or "" (nothing said)."""
        if self._text[: measure.of_text[0]].rstrip(" ~").endswith("="):
            return "all"
        hit = remark_phrase("each_or_all").pattern.search(self._low[measure.of_text[1] :])
        return "" if hit is None else hit.lastgroup or ""

    def set_apart(self, measure: Measure, inside: Measure) -> bool:
        """Whether ``inside`` stands behind words of the name, or in parentheses or after a comma, a
        dash or "=" behind any: "4 pots (120 g)", "2 tins tomatoes 800 g"."""
        before = self._text[measure.of_text[0] : inside.of_text[0]]
        between = self._low[measure.of_text[1] : inside.of_text[0]]
        return remark_phrase("named_between").found(between) or (
            remark_phrase("set_apart").found(before) and any(c.isalpha() for c in before)
        )

    def bracketed(self, measure: Measure, inside: Measure) -> bool:
        """ "2 (30 g) spring onions": whether ``inside`` stands in parentheses after a bare number."""
        before = self._text[measure.of_text[0] : inside.of_text[0]]
        return measure.unit == "piece" and before.rstrip().endswith("(")


@lru_cache(maxsize=20_000)
def remarks_on(text: str) -> Remarks:
    """The remarks of a line's text."""
    return Remarks(text)
