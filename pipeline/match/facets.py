"""The words of a description as the match stage weighs them: its head and the rest.

What a description says of states, form and makers is read once, into profiles
(``pipeline.foods.profile``); here are only the lists by which its words count more or less.
"""

from __future__ import annotations

import re

from pipeline.foods.words import words

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


_BRAND = re.compile(r"\b[A-Z][A-Z&.]{2,}\b")
_NOT_BRANDS = frozenset(
    {"USDA", "UPC", "GTIN", "USDA'S", "NFS", "NLEA", "UHT", "TVP", "DHA", "ARA"}
)


def head_and_tail(description: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words of the first part of a description, and of the later ones.

    Args:
        description: e.g. ``"Rice, brown, long-grain, cooked"``.
    """
    parts = description.replace("(", ", ").replace(")", " ").split(",")
    return words(parts[0]), tuple(w for part in parts[1:] for w in words(part))


def brand_names(description: str) -> list[str]:
    """Words in capitals that name a maker: ``McDONALD'S``, ``KRAFT``."""
    return [w for w in _BRAND.findall(description) if w not in _NOT_BRANDS]
