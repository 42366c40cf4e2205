"""Letters of nutrients that a text explains once: "(B = białko / protein, T tłuszcz fat)"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from pipeline.intake.columns import nutrient_named
from pipeline.intake.text.card_line import CardLine

#: A letter or two of a key, and the words that explain them.
_EXPLAINED = re.compile(
    r"^\W*([^\W\d_]{1,3})\b\s*(?:[=:.–—-]\s*|\bfor\s+|\bis\s+)?((?:[^\W\d_].*)?)$"
)
_PARTS = re.compile(r"[,;|]|\s{2,}|\s(?=[^\W\d_]{1,3}\s?[=:])")
_WORD = re.compile(r"[^\W\d_]+")
_MOST_WORDS = 4
#: Letters of a key that a line of numbers uses, at least, as a key explains.
_LEAST = 2


def spelled_out(lines: Sequence[CardLine]) -> list[CardLine]:
    """Lines in which the letters of a key that stands in one of them are the nutrients they stand for.

    >>> lines = ["B 24 g, T 30 g", "(B bjelancevine protein, T fat)"]
    >>> [one.text for one in spelled_out([CardLine(no, text) for no, text in enumerate(lines)])]
    ['protein 24 g, fat 30 g', '']
    """
    keys = {line.no: key for line in lines if (key := _key_of(line.text))}
    key = {letter: name for one in keys.values() for letter, name in one.items()}
    letters = "|".join(sorted(map(re.escape, key), key=len, reverse=True))
    used = re.compile(
        rf"(?<![^\W_])({letters})(?=\s?[:=]?\s?\d)|(?<=\d)(\s?g?\s?)({letters})(?![^\W_])"
    )
    by_key = {
        line.no: used.sub(lambda m: f"{m[2] or ''} {key[m[1] or m[3]]}".lstrip(), line.text)
        for line in lines
        if key and len({m[1] or m[3] for m in used.finditer(line.text)}) >= _LEAST
    }
    told = by_key | dict.fromkeys(keys, "") if by_key else {}
    return [replace(line, text=told.get(line.no, line.text)) for line in lines]


def _key_of(text: str) -> dict[str, str]:
    """What letters of a line stand for; {} for any line but one that explains several."""
    if any(c.isdigit() for c in text):
        return {}
    found: dict[str, str] = {}
    for part in _PARTS.split(text):
        explained = _EXPLAINED.match(part)
        words = _WORD.findall(explained[2]) if explained else []
        named = {tag: word for word in words if (tag := nutrient_named(word))}
        begins = explained and any(w[0].lower() == explained[1][0].lower() for w in words)
        if explained and begins and len(words) <= _MOST_WORDS and len(named) == 1:
            found[explained[1]] = next(iter(named.values()))
    return found if len(set(found.values())) >= _LEAST else {}
