"""What the wording of a line says beside amount, name and states, for the stages that need it.

Read on demand from the text, since few lines are asked. ``ParsedLine.remarks`` gives it; later
stages ask here and in ``use_words`` rather than search the text.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Literal

from pipeline.foods.words import words
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from pipeline.lines.model import Measure

_WORD = re.compile(r"[a-z][a-z-]*")
_FIGURES = re.compile(r"[\d.,/\u00bc-\u00be\u2150-\u215e]+")
_EACH_OR_ALL = re.compile(r"^[^()]*\b(?:each|apiece|ea|per|total|in all|altogether)\b")
_ACROSS = re.compile(
    r"(?P<n>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<m>\d+(?:\.\d+)?))?\s*-?\s*"
    r"(?:(?P<cm>cm|centimetres?|centimeters?)\b|(?:inch(?:es)?|in)\b|[\"”″])"
    r"(?!\W{0,2}(?:\w+ )?(?:pieces?|chunks?|slices?|cubes?|strips?|thick|dice|rounds?|lengths?|long|"
    r"knob|batons?|sticks?|wedges?|coins?|matchsticks?))"
)
_CUT = re.compile(r"\b(?:cut|sliced|chopped|diced|cubed)\b[^,;()]*$")
_CM_PER_INCH = 2.54
_WORKED = re.compile(r"[,;(–-]\s*(?:[\w-]+ ){0,4}?(whipped|whisked|melted|sifted|crushed)\b")
_PREPARED_WEIGHT = re.compile(
    r"\b(?:peeled|prepared|trimmed|shelled|pitted|stoned|boneless|drained|net|edible|flesh|meat) "
    r"(?:weight|wt)\b|\bweighed after\b"
)
_ON_THE_BONE = re.compile(
    r"\b(?:whole|jointed|spatchcock(?:ed)?|carcass|giblets|on the bone|curry cut|trussed|"
    r"oven[- ]ready|roaster|broken down|cut[- ]up|cut into (?:\d+|eight|ten|joints))\b"
)
_WHOLE_FISH = re.compile(r"\b(?:gutted|scaled|head on|head-on|heads on)\b")
_SKIN_OFF = re.compile(r"\bskin(?:less|ned)\b|\bskins? (?:removed|off|discarded)\b")
_TINNED = re.compile(r"\b(?:can|cans|tin|tins|jar|canned|tinned)\b")
#: What a line may take off its food behind the amount.
_OFF = {
    "inedible": re.compile(
        r"\b(?:peel(?:ed|ing)?|skinned|pared|de-?seeded|seeds? removed|seeds? only|cored|core removed|"
        r"de-?stoned|stoned|stones? removed|pitted|pits? removed|rinds? (?:removed|off)|"
        r"skin(?:s)? (?:removed|off|discarded)|peel removed|shelled|podded|hulled|husked|shucked|"
        r"segmented|flesh (?:only|scooped)|trimmed|topped and tailed|boned|bones? removed|"
        r"jointed|meat (?:picked|shredded|removed))\b"
    ),
    "trimmings": re.compile(
        r"\b(?:trimmed|topped and tailed|leaves removed|outer leaves|core removed|woody|stalks removed|"
        r"stems removed|de-?stemmed|hulled|cored|de-?seeded)\b"
    ),
}
_SET_APART = re.compile(r",|;|\(| - | – |\band then\b|\bthen\b")


@cache
def _market_words() -> dict[str, str]:
    return {row["word"]: row["market"] for row in shared_rows("market_words.csv")}


class Remarks:
    """The answers about one line.

    Attributes:
        words: all words of the line in their order, in the form of ``foods.words.words``.
        without_figures: the text without digits and fractions; equal for lines that differ in
            their amounts alone.
    """

    __slots__ = ("_low", "_text")

    def __init__(self, text: str) -> None:
        self._text = text
        self._low = text.lower()

    @property
    def words(self) -> tuple[str, ...]:
        return words(self._text)

    @property
    def without_figures(self) -> str:
        return _FIGURES.sub("", self._text)

    def words_before(self, name: str) -> tuple[str, ...]:
        """The words in front of the food's name, in the form of ``words``."""
        return words(self._text[: self._low.find(name[:12])])

    # --- how the thing is sold, how wide it is ---------------------------------------------

    @property
    def market(self) -> str:
        """``us``, ``uk`` (with the rest of the metric world) or "" when signs are none or mixed."""
        known = _market_words()
        signs = {known[word] for word in _WORD.findall(self._low) if word in known}
        return signs.pop() if len(signs) == 1 else ""

    @property
    def across_cm(self) -> float:
        """Width or length in cm of the thing itself ("10-inch tortillas"), else 0.

        A size to which the thing is cut ("cut into 1-inch chunks") is none.
        """
        for hit in _ACROSS.finditer(self._low):
            if _CUT.search(self._low[: hit.start()]):
                continue
            wide = float(hit["n"])
            if hit["m"]:
                wide = (wide + float(hit["m"])) / 2
            return wide if hit["cm"] else wide * _CM_PER_INCH
        return 0.0

    # --- what was done after the amount was measured ---------------------------------------

    @property
    def worked_after(self) -> str:
        """Work behind a comma or in parentheses that changes the volume: "cream, whipped"."""
        hit = _WORKED.search(self._low)
        return hit[1] if hit is not None else ""

    def taken_off(self, measure: Measure, what: Literal["inedible", "trimmings"]) -> bool:
        """Whether peel, stone, bone and the like, or trimmings, come off behind ``measure``.

        Only words set apart by a comma, parenthesis, dash or "then" count: in front of them the
        weight is of what is left.
        """
        rest = self._low[measure.of_text[1] :]
        hit = _OFF[what].search(rest)
        if hit is None:
            return False
        between = rest[: hit.start()]
        opened = between.rfind("(") > between.rfind(")")
        return bool(_SET_APART.search(between)) and not (
            opened and _PREPARED_WEIGHT.search(rest[hit.start() :])
        )

    @property
    def prepared_weight(self) -> bool:
        """The weight is of what is eaten: "peeled weight", "weighed after cooking"."""
        return "weigh" in self._low and _PREPARED_WEIGHT.search(self._low) is not None

    def drained_before(self, measure: Measure) -> bool:
        """Whether "drained" stands in front of the amount, which is then of what is left."""
        return -1 < self._low.find("drained") < measure.of_text[0]

    @property
    def squeezed(self) -> bool:
        """Water is pressed out of it."""
        return "squeez" in self._low

    @property
    def trimmed(self) -> bool:
        """Fat or ends are cut off."""
        return "trim" in self._low

    @property
    def rinsed_from_tin(self) -> bool:
        """A tin's content is rinsed, and so drained."""
        return "rinse" in self._low and _TINNED.search(self._low) is not None

    # --- what is there ---------------------------------------------------------------------

    @property
    def on_the_bone(self) -> bool:
        """Words that only a bird or joint with its bones has: "jointed", "spatchcocked"."""
        return _ON_THE_BONE.search(self._low) is not None

    @property
    def whole_fish(self) -> bool:
        """Words that only a whole fish has: "gutted", "head on"."""
        return _WHOLE_FISH.search(self._low) is not None

    @property
    def skin_off(self) -> bool:
        """The skin is gone: "skinless", "skin removed"."""
        return _SKIN_OFF.search(self._low) is not None

    # --- amounts beside one another --------------------------------------------------------

    def each_or_all(self, measure: Measure) -> bool:
        """Whether the words behind ``measure`` say if it is of each or of all: "150 g each"."""
        return _EACH_OR_ALL.search(self._low[measure.of_text[1] :]) is not None

    def in_brackets(self, measure: Measure, inside: Measure) -> bool:
        """Whether ``inside`` stands in parentheses behind words of ``measure``: "4 pots (120 g)"."""
        before = self._text[measure.of_text[0] : inside.of_text[0]].rstrip(" ~")
        return before.endswith("(") and any(c.isalpha() for c in before)


@lru_cache(maxsize=20_000)
def remarks_on(text: str) -> Remarks:
    """The remarks of a line's text."""
    return Remarks(text)
