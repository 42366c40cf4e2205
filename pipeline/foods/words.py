"""Words of food names, brought to one form: case, accents, hyphens, plurals.

The same function runs over cooks' names, the names tables and the table's own descriptions, so a
form that is odd English but the same on both sides does no harm.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache

from pipeline.resources import column_of

_WORD = re.compile(r"[a-z0-9][a-z0-9'&]*")
_DASHES = str.maketrans(dict.fromkeys("-/+", " "))
_MARKS = str.maketrans({**dict.fromkeys("‐‑‒–—―", "-"), "’": "'", "‘": "'"})


@cache
def singular(word: str) -> str:
    """Singular of one lower-case English food word; a word that is none comes back as it is.

    The rules are those of regular English plurals; ``shared/plurals.csv`` holds the exceptions.
    General inflection libraries get more food words wrong than right where they differ from this
    (asparagus, citrus, couscous, cloves, chia), because they take Latin endings for plurals.
    """
    return column_of("plurals.csv", "plural", "singular").get(word) or regular_singular(word)


def regular_singular(word: str) -> str:
    """The singular by rule alone."""
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
    return _plain(text).translate(_DASHES)


def _plain(text: str) -> str:
    """Lower case, accents off."""
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("œ", "oe"))
        text = "".join(c for c in text if not unicodedata.combining(c))
        text = text.translate(_MARKS)
    return text.lower()


class _Forms(dict[str, str]):
    """A word as it stands in a text → the form in which words are compared, worked out once."""

    def __missing__(self, word: str) -> str:
        self[word] = form = singular(word.rstrip("'&"))
        return form


_FORMS = _Forms()


@lru_cache(maxsize=200_000)
def words(text: str) -> tuple[str, ...]:
    """The words of a name or description in their order, folded and singular.

    Args:
        text: any text; punctuation parts words and is dropped.

    Returns:
        A tuple, empty when the text has no word.
    """
    return tuple(map(_FORMS.__getitem__, _WORD.findall(_plain(text))))
