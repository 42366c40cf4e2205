"""How a composition table names a food: head segment, comma facets, states.

USDA SR descriptions read "Head, kind, state, treatment": the first segment heads the name, later
segments narrow it. The same reading serves any table that names foods that way.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from pipeline.match.words import fold, words

#: Words of a table's facets, and the canonical state they say (states as in shared/states.csv).
#: Source: the wording of the USDA SR28 descriptions themselves.
_SAYS: tuple[tuple[str, str], ...] = (
    (r"\braw\b|\bunprepared\b|\buncooked\b", "raw"),
    (r"\bcooked\b|\bprepared\b", "cooked"),
    (r"\bboiled\b|\bhard-boiled\b|\bsimmered\b|\bpoached\b", "boiled"),
    (r"\bsteamed\b", "steamed"),
    (r"\bbraised\b|\bstewed\b", "braised"),
    (r"\broasted\b|\brotisserie\b", "roasted"),
    (r"\bbaked\b", "baked"),
    (r"\bbroiled\b|\bgrilled\b", "grilled"),
    (r"\bfried\b|\bpan-browned\b|\bscrambled\b|\bomelet\b", "fried"),
    (r"\btoasted\b", "toasted"),
    (r"\bmicrowaved\b", "microwaved"),
    (r"\bdry\b", "dry"),
    (r"\bdried\b|\bdehydrated\b|\bfreeze-dried\b", "dried"),
    (r"\bcanned\b|\bbottled\b", "canned"),
    (r"\bdrained\b", "drained"),
    (r"\bfrozen\b", "frozen"),
    (r"\bfresh\b|\brefrigerated\b", "fresh"),
    (r"\bsmoked\b|\blox\b", "smoked"),
    (r"\bcured\b", "cured"),
    (r"\bpickled\b", "pickled"),
    (r"\bunsweetened\b|\bwithout added sugar\b|\bno sugar added\b", "unsweetened"),
    (r"(?<!un)\bsweetened\b|\bsyrup\b", "sweetened"),
    (r"\blean only\b", "lean"),
    (r"\bmeat and skin\b|\bwith skin\b", "skin_on"),
    (r"\bmeat only\b|\bwithout skin\b|\bskinless\b|\bpeeled\b", "skinless"),
    (r"\bpowder(?:ed)?\b", "powdered"),
    (r"\bground\b", "ground"),
    (r"\bunsalted\b|\bwithout salt\b|\bno salt added\b", "unsalted"),
    (r"\bwith salt\b|\bsalted\b|\bsalt added\b", "salted"),
    (r"\binstant\b", "instant"),
    (r"\bjuice\b", "juice"),
)  # fmt: skip
_SAYS_RE = tuple((re.compile(pattern), state) for pattern, state in _SAYS)

COOKED = frozenset(
    {"cooked", "boiled", "steamed", "braised", "stewed", "roasted", "baked", "grilled", "fried",
     "microwaved", "poached", "toasted", "scrambled", "sauteed", "barbecued", "simmered"}
)  # fmt: skip

#: Facet words that say nothing a cook would say: they neither help nor hurt a match.
NEUTRAL = frozenset(
    words(
        "raw fresh all commercial variety varieties includes include including type types usda's "
        "commodity year round average only and or with without to of in the a for from by not "
        "added salt plain regular unprepared ready serve eat heat grade grades choice select "
        "separable lean fat trimmed composite cuts meat retail cut style made enriched unenriched "
        "bleached unbleached fortified vitamin vitamins calcium iron d c upc gtin drained solids "
        "solid content contents entire package mature seeds seed uncooked imported domestic new "
        "zealand australian australia alaska native formulation nfs other than also known as boneless "
        "bone skin form forms purpose general use used home prepared recipe dry mix market fluid "
        "ounce inch 1/8 1/4 0 milkfat usual food distribution program"
    )
)


#: Words of descriptions that say a state: never counted as words nobody asked for.
STATE_WORDS = frozenset(
    {"cooked", "boiled", "roasted", "raw", "dry", "dried", "canned", "frozen", "drained", "broiled",
     "grilled", "fried", "braised", "steamed", "unsalted", "salted", "smoked", "heat", "moist"}
)  # fmt: skip


class Facets(NamedTuple):
    """A table name taken apart.

    Attributes:
        head: words of the first segment ("Chicken, broilers ..." → ``("chicken",)``).
        tail: words of the later segments.
        states: canonical states the name says.
        brand: the name carries a brand in capitals or a maker.
    """

    head: tuple[str, ...]
    tail: tuple[str, ...]
    states: frozenset[str]
    brand: bool


_BRAND = re.compile(r"\b[A-Z][A-Z&.]{2,}\b")
_NOT_BRANDS = frozenset(
    {"USDA", "UPC", "GTIN", "USDA'S", "NFS", "NLEA", "UHT", "TVP", "DHA", "ARA"}
)


def facets(description: str, manufacturer: str = "") -> Facets:
    """Take a table's food name apart.

    Args:
        description: e.g. ``"Rice, brown, long-grain, cooked"``.
        manufacturer: as the source gives it, "" when none.
    """
    plain = description.replace("(", ", ").replace(")", " ")
    segments = plain.split(",")
    folded = fold(description.replace("-", "\u0001")).replace("\u0001", "-")
    states = frozenset(state for pattern, state in _SAYS_RE if pattern.search(folded))
    shouted = brand_names(description)
    return Facets(
        head=words(segments[0]),
        tail=tuple(w for s in segments[1:] for w in words(s)),
        states=states,
        brand=bool(shouted) or bool(manufacturer),
    )


def brand_names(description: str) -> list[str]:
    """Words in capitals that name a maker: ``McDONALD'S``, ``KRAFT``."""
    return [w for w in _BRAND.findall(description) if w not in _NOT_BRANDS]
