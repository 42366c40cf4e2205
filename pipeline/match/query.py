"""From a parsed line to what is asked of the index: words, head, states, fat, misspellings mended."""

from __future__ import annotations

from dataclasses import dataclass

from rapidfuzz import process
from rapidfuzz.distance import OSA

from pipeline.lines.model import ParsedLine
from pipeline.match.index import LONGEST_NAME, Index
from pipeline.match.knowledge import Phrase
from pipeline.match.words import words

#: Words after which a phrase no longer names its food: "tuna in spring water".
PREPOSITIONS = frozenset({"in", "with", "from", "for", "on", "without", "per", "like", "at", "to"})
GLUE = frozenset(
    {"of", "and", "or", "the", "a", "an", "your", "some", "&", "any", "my", "such", "as"}
)

#: What a part of a thing is called inside a name.
PARTS = {"juice": "juice", "zest": "zest", "yolk": "yolk", "white": "white"}

PACKED_IN = frozenset({"tin", "jar"})


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for; equal queries are answered once.

    Attributes:
        phrase: words of the name in order, canonical, mended.
        states: canonical states said on the line, the tin or jar it comes in included.
        fat_pct: fat asked for, g per 100 g, or None.
        mended: (as written, as read) of each word that no food or name uses.
        unread: words that stay unknown.
    """

    phrase: Phrase
    states: frozenset[str]
    fat_pct: float | None = None
    mended: tuple[tuple[str, str], ...] = ()
    unread: tuple[str, ...] = ()


def query_of(line: ParsedLine, index: Index, name: str | None = None) -> Query:
    """Build the query of a line, or of one of its ``alternatives`` given as ``name``."""
    raw = words(line.name if name is None else name)
    if line.part in PARTS and PARTS[line.part] not in raw:
        raw = (*raw, PARTS[line.part])
    phrase = index.knowledge.canonical(raw)
    mended, unread, phrase = _mend(phrase, index)
    phrase = _turn_of(phrase, index)
    states = line.states
    if any(m.unit in PACKED_IN for m in line.measures):
        states = states | {"canned"}
    fat = line.fat_pct
    if fat is None and line.lean_pct is not None:
        fat = max(0.0, 100.0 - line.lean_pct)
    return Query(phrase, states, fat, mended, unread)


def _turn_of(phrase: Phrase, index: Index) -> Phrase:
    """``leg of lamb`` → ``lamb leg`` when no name holds the phrase as written."""
    if "of" not in phrase[1:-1]:
        return phrase
    at = phrase.index("of", 1)
    written = best_span(phrase, index)
    if written is not None and written[0] < at < written[1]:
        return phrase
    turned = (*phrase[at + 1 :], *phrase[:at])
    found = best_span(turned, index)
    if found is not None and (written is None or found[1] - found[0] > written[1] - written[0]):
        return turned
    return phrase


def best_span(phrase: Phrase, index: Index) -> tuple[int, int] | None:
    """The longest name inside a phrase, the rightmost of equals, as (start, end)."""
    for size in range(min(LONGEST_NAME, len(phrase)), 0, -1):
        for start in range(len(phrase) - size, -1, -1):
            if phrase[start : start + size] in index.names:
                return start, start + size
    return None


def _mend(
    phrase: Phrase, index: Index
) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...], Phrase]:
    """Read words that nothing uses as the nearest that something does.

    In order: two words that are one ("sweet corn"), one that is two ("buttermilk"), an edit or two
    away, an abbreviation whose neighbour settles it ("sweet pot").
    """
    known = index.vocabulary
    harmless = index.knowledge.harmless
    out: list[str] = []
    mended: list[tuple[str, str]] = []
    unread: list[str] = []
    at = 0
    while at < len(phrase):
        word = phrase[at]
        if at + 1 < len(phrase):
            pair = (word, phrase[at + 1])
            joined = word + phrase[at + 1]
            if (
                pair not in index.names
                and (joined,) in index.names
                and not _pair_known(pair, index)
            ):
                out.append(joined)
                at += 2
                continue
        if (
            word in known
            or word in harmless
            or word in GLUE
            or word in PREPOSITIONS
            or len(word) < 3
        ) or not word.isalpha():
            out.append(word)
        elif split := _split(word, index):
            out.extend(split)
        elif near := _nearest(word, phrase[at - 1] if at else "", phrase[at + 1 : at + 2], index):
            out.append(near)
            mended.append((word, near))
        else:
            out.append(word)
            unread.append(word)
        at += 1
    done = tuple(out)
    return tuple(mended), tuple(unread), index.knowledge.canonical(done) if mended else done


def _pair_known(pair: Phrase, index: Index) -> bool:
    return all((w,) in index.names for w in pair)


def _split(word: str, index: Index) -> Phrase | None:
    for cut in range(3, len(word) - 2):
        pair = (word[:cut], word[cut:])
        if pair in index.names:
            return pair
    return None


def _nearest(word: str, before: str, after: Phrase, index: Index) -> str | None:
    allowed = 1 if len(word) < 8 else 2
    near: list[tuple[float, str]] = []
    hits = process.extract(
        word, index.vocabulary.keys(), scorer=OSA.distance, score_cutoff=allowed, limit=25
    )
    for other, edits, _ in hits:
        if not other.isalpha() or abs(len(other) - len(word)) > allowed or len(other) < 3:
            continue
        score = index.vocabulary[other] - 2.5 * edits + _fits(before, other, after, index)
        score += 1.0 * (other[0] == word[0])
        near.append((score, other))
    if not near:  # an abbreviation: only with a neighbour that makes it a name
        for other in index.vocabulary:
            if other[0] == word[0] and len(other) > len(word) and _abbreviates(word, other):
                fit = _fits(before, other, after, index)
                if fit:
                    near.append((index.vocabulary[other] + fit, other))
    return max(near)[1] if near else None


def _fits(before: str, word: str, after: Phrase, index: Index) -> float:
    fit = 0.0
    if before and (before, word) in index.names:
        fit += 4.0
    if after and (word, *after) in index.names:
        fit += 4.0
    if (word,) in index.names:
        fit += 1.0
    return fit


def _abbreviates(short: str, long: str) -> bool:
    if long.startswith(short):
        return True
    rest = iter(long)
    return all(c in rest for c in short) and not set(short[1:]) & set("aeiou")
