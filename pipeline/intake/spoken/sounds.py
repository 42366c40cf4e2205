"""A key of how an English word sounds, so that a misheard word finds the food that was meant.

In the manner of phonetic indexes (Soundex, Metaphone): consonants by class in their order, vowels
only as a mark that one stands at the beginning. "flower" and "flour", "thyme" and "time", "cumin"
and "come in" have one key.
"""

from __future__ import annotations

import re
from functools import lru_cache

_RULES = tuple(
    (re.compile(pattern), to)
    for pattern, to in (
        (r"^thy", "ty"), (r"^(?:kn|gn)", "n"), (r"^wr", "r"), (r"^wh", "w"), (r"^ps", "s"),
        (r"(?:tch|ch|sh|sch)", "x"), (r"ph|gh(?=t)", "f"), (r"ght", "t"), (r"gh", ""), (r"lk", "k"),
        (r"ck|q|c(?=[^eiyxh]|$)", "k"), (r"c(?=[eiy])", "s"), (r"dg(?=[ei])|j|g(?=[eiy])", "j"),
        (r"x", "x"), (r"ts|tz|z", "s"), (r"th", "t"), (r"v", "f"), (r"d$", "t"), (r"mb$", "m"),
        (r"(?<=[aeiou])w", ""), (r"(?<=[aeiou])y", ""), (r"y", "i"), (r"h", ""),
    )
)  # fmt: skip
_VOWELS = re.compile(r"[aeiou]+")
_DOUBLE = re.compile(r"(.)\1+")


@lru_cache(maxsize=50_000)
def sound(word: str) -> str:
    """Key of a lower-case word; equal for words that sound alike.

    >>> sound("flower") == sound("flour"), sound("mints") == sound("mince"), sound("way") == sound("whey")
    (True, True, True)
    """
    word = word.replace("'", "").replace("-", "")
    for pattern, to in _RULES:
        word = pattern.sub(to, word)
    first = "a" if word[:1] in ("a", "e", "i", "o", "u") else ""
    return first + _DOUBLE.sub(r"\1", _VOWELS.sub("", word))


def syllables(word: str) -> int:
    """Groups of vowels of a word, a silent final e apart."""
    groups = len(re.findall(r"[aeiouy]+", word))
    silent = word.endswith("e") and groups > 1 and not re.search(r"[aeiouy]e$|le$", word)
    return groups - silent
