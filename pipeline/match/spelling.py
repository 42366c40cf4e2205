"""Words that no food and no name uses, read as the nearest that something does."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from rapidfuzz import process
from rapidfuzz.distance import OSA

from pipeline.match.index import Index
from pipeline.match.knowledge import JOINING, Phrase

#: From so many letters on, a word one or two edits away from a known one is a slip for it; shorter
#: ones have neighbours by chance ("riso" and "miso"). Common practice of spelling correction.
LONG_WORD = 6
#: ``Index.vocabulary`` of a word that two names hold.
_IN_TWO_NAMES = 2 + math.log1p(2)


class Spelt(NamedTuple):
    """A phrase with its spelling corrected.

    Attributes:
        phrase: its words, canonical.
        corrected: (as written, as read) of each word that no food or name uses.
        unread: words that stay unknown.
    """

    phrase: Phrase
    corrected: tuple[tuple[str, str], ...] = ()
    unread: tuple[str, ...] = ()


def correct(phrase: Phrase, index: Index) -> Spelt:
    """Read words that nothing uses as the nearest that something does.

    In order: two words that are one ("sweet corn"), one that is two ("buttermilk"), an edit or two
    away, an abbreviation whose neighbour settles it ("sweet pot").
    """
    if not _doubtful(phrase, index):
        return Spelt(phrase)
    out: list[str] = []
    corrected: list[tuple[str, str]] = []
    unread: list[str] = []
    at = 0
    while at < len(phrase):
        word, after = phrase[at], phrase[at + 1 : at + 2]
        if after and _are_one(word, after[0], index):
            out.append(word + after[0])
            at += 2
            continue
        at += 1
        if _is_plain(word, index):
            read = word if after else _longer(phrase, index)
        elif split := _split(word, index):
            out.extend(split)
            continue
        else:
            read = _nearest(word, phrase[at - 2] if at > 1 else "", after, index)
            if not read and word not in index.vocabulary:
                unread.append(word)
        out.append(read or word)
        if read and read != word:
            corrected.append((word, read))
    done = tuple(out)
    if corrected:
        done = index.knowledge.canonical(done)
    return Spelt(done, tuple(corrected), tuple(unread))


def is_foreign(asked: Phrase, spelt: Spelt, index: Index) -> bool:
    """True when no word that names is one of a words file or a table, nor a long one's slip.

    A word that only stands inside one longer name ("farine" of "farine de manioc") is no known one.

    Args:
        asked: the words of a name as written.
        spelt: the same words corrected.
        index: what is known.
    """
    if any(_is_known(w, index) and _names(w, index) for w in asked):
        return False
    naming = [w for w in asked if _names(w, index)]
    if not naming or asked in index.names:
        return not asked  # letters that no table is written in
    slips = {written for written, _ in spelt.corrected}
    return not all(w in slips and len(w) >= LONG_WORD for w in naming)


def _doubtful(phrase: Phrase, index: Index) -> bool:
    """Whether a word of a phrase may have to be read as another."""
    known = index.plain_words
    for word in phrase:
        if not known.get(word) and not _is_plain(word, index):
            return True
    single = index.single_names
    for word, after in pairwise(phrase):
        if word + after in single and _are_one(word, after, index):
            return True
    return bool(phrase and _longer(phrase, index))


def _is_plain(word: str, index: Index) -> bool:
    """Whether a word is used by foods or names, joins others, or is no word to correct."""
    plain = index.plain_words.get(word)
    if plain is None:
        plain = not index.rare(word) or _is_short(word, index) or not word.isalpha()
        index.plain_words[word] = plain
    return plain


def _is_short(word: str, index: Index) -> bool:
    return len(word) < 3 or word in index.knowledge.harmless or word in JOINING


def _is_known(word: str, index: Index) -> bool:
    return (
        word in index.postings
        or (word,) in index.names
        or index.vocabulary.get(word, 0.0) >= _IN_TWO_NAMES
    )


def _names(word: str, index: Index) -> bool:
    """Whether a word says what a food is: no state, no filler, no word that joins others."""
    known = index.knowledge
    return (
        word not in known.harmless and word not in JOINING
        and (word,) not in known.state_phrases
        and (len(word) >= 3 or (word,) in index.names) and word.isalpha()
    )  # fmt: skip


def _are_one(word: str, after: str, index: Index) -> bool:
    """Whether two words are a name of one word, written apart."""
    return word + after in index.single_names and (word, after) not in index.names


def _split(word: str, index: Index) -> Phrase | None:
    """A name of two words that a word writes as one."""
    for cut in range(3, len(word) - 2):
        pair = word[:cut], word[cut:]
        if pair in index.names:
            return pair
    return None


def _longer(phrase: Phrase, index: Index) -> str:
    """A last word cut short after one that settles it: ``sweet pot`` → ``potato``; "" for none."""
    before, word = phrase[-2:] if len(phrase) > 1 else ("", "")
    if not word or (word,) in index.names or (before, word) in index.names:
        return ""
    if _is_short(word, index) or index.rare(word):
        return ""
    longer = [w for w in index.words_after(before) if w.startswith(word)]
    return max(longer, key=lambda w: (index.vocabulary[w], w), default="")


def _nearest(word: str, before: str, after: Phrase, index: Index) -> str:
    """The known word that a word is most likely a slip or an abbreviation of, "" for none."""
    allowed = 1 if len(word) < 8 else 2
    near: list[tuple[float, str]] = []
    tries = {word: 0.0}
    if word.endswith("s") and len(word) > 3:  # "egss" may be a plural
        tries[word[:-1]] = 0.3
    for tried, cost in tries.items():
        hits = process.extract(
            tried, index.spelt_like(tried, allowed), scorer=OSA.distance, score_cutoff=allowed,
            limit=25,
        )  # fmt: skip
        for other, edits, _ in hits:
            if not other.isalpha() or len(other) < 3 or other == word or index.rare(other):
                continue
            if other in index.knowledge.foreign:  # a slip is corrected in English only
                continue
            score = index.vocabulary[other] - 2.5 * edits - cost
            score += _fits(before, other, after, index) + 1.0 * (other[0] == word[0])
            near.append((score, other))
    if word in index.vocabulary:  # the table itself uses it: correct only into a name that fits
        near = [(s, w) for s, w in near if _fits(before, w, after, index)]
    elif not near:  # an abbreviation: only with a neighbour that makes it a name
        for other in _written_out(word, index):
            fit = _fits(before, other, after, index)
            if fit:
                near.append((index.vocabulary[other] + fit, other))
    return max(near)[1] if near else ""


def _fits(before: str, word: str, after: Phrase, index: Index) -> float:
    """How well a word makes names, alone and with its neighbours."""
    fit = 0.0
    if before and (before, word) in index.names:
        fit += 4.0
    if after and (word, *after) in index.names:
        fit += 4.0
    if (word,) in index.names:
        fit += 1.0
    return fit


def _written_out(word: str, index: Index) -> list[str]:
    """Words of the vocabulary that a word may abbreviate; kept, since "tbsp" comes again."""
    known = index.written_out.get(word)
    if known is None:
        known = index.written_out[word] = [
            other for other in index.by_first_letter.get(word[0], ())
            if len(other) > len(word) and _abbreviates(word, other)
        ]  # fmt: skip
    return known


def _abbreviates(short: str, long: str) -> bool:
    if long.startswith(short):
        return True
    rest = iter(long)
    return all(c in rest for c in short) and not set(short[1:]) & set("aeiou")
