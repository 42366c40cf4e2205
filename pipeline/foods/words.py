"""Words of food names, brought to one form: case, accents, hyphens, plurals.

The same function runs over cooks' names, the names tables and the table's own descriptions, so a
form that is odd English but the same on both sides does no harm.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache

_WORD = re.compile(r"[a-z0-9][a-z0-9'&]*")
_DASHES = re.compile(r"[-\u2010-\u2015/+]")

#: Plurals that the rules below would bring to a wrong singular, and singulars that look plural.
_IRREGULAR = {
    "leaves": "leaf", "loaves": "loaf", "halves": "half", "calves": "calf", "knives": "knife",
    "shelves": "shelf", "potatoes": "potato", "tomatoes": "tomato", "mangoes": "mango",
    "children": "child", "geese": "goose", "mice": "mouse", "feet": "foot", "teeth": "tooth",
    "olives": "olive", "chives": "chive", "endives": "endive", "cloves": "clove",
    "pies": "pie", "ties": "tie", "basis": "basis", "bis": "bis", "tennis": "tennis",
    "molasses": "molasses", "hummus": "hummus", "houmous": "houmous", "houmus": "houmus",
    "couscous": "couscous", "asparagus": "asparagus", "citrus": "citrus", "octopus": "octopus",
    "swiss": "swiss", "grass": "grass", "bass": "bass", "watercress": "watercress",
    "cress": "cress", "schnapps": "schnapps", "haggis": "haggis", "hibiscus": "hibiscus",
    "lemongrass": "lemongrass", "boneless": "boneless", "skinless": "skinless",
    "seedless": "seedless", "eggless": "eggless", "brussels": "brussels", "bratwurst": "bratwurst",
    "gas": "gas", "less": "less", "is": "is", "as": "as", "us": "us", "plus": "plus",
    "swede": "swede", "anise": "anise", "cassis": "cassis", "cos": "cos", "pancreas": "pancreas",
    "demerara": "demerara", "oats": "oat", "peas": "pea", "lens": "lens", "quinoas": "quinoa",
    "crisps": "crisp", "this": "this", "its": "its", "class": "class", "glass": "glass",
    "fries": "fry", "chorizos": "chorizo", "avocados": "avocado", "anchovies": "anchovy",
    "chillies": "chilli", "chilies": "chili", "chillis": "chilli",
    "piece": "piece", "pieces": "piece", "cheese": "cheese", "cheeses": "cheese",
}  # fmt: skip


@cache
def singular(word: str) -> str:
    """Singular of one lower-case English food word; a word that is none comes back as it is."""
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if len(word) > 4 and word.endswith("ie"):  # one form for hoagie, hoagies and hoagy
        return word[:-2] + "y"
    if len(word) < 4 or not word.endswith("s") or word.endswith(("ss", "us", "'s")):
        return word.removesuffix("'s")
    if word.endswith("ies"):
        return word[:-3] + "y"
    if word.endswith(("oes", "shes", "ches", "xes", "sses", "zes")):
        return word[:-2]
    return word[:-1]


def fold(text: str) -> str:
    """Lower case, accents off, dashes and slashes to spaces: ``Crème-fraîche`` → ``creme fraiche``."""
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("œ", "oe"))
        text = "".join(c for c in text if not unicodedata.combining(c))
        text = text.replace("’", "'").replace("‘", "'")
    return _DASHES.sub(" ", text.lower())


@lru_cache(maxsize=200_000)
def words(text: str) -> tuple[str, ...]:
    """The words of a name or description in their order, folded and singular.

    Args:
        text: any text; punctuation parts words and is dropped.

    Returns:
        A tuple, empty when the text has no word.
    """
    return tuple(singular(w.strip("'&")) for w in _WORD.findall(fold(text)) if w.strip("'&"))
