"""Words that no food and no name uses, read as the nearest that something does."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import NamedTuple

from pipeline.match.index import Index
from pipeline.match.knowledge import JOINING, Phrase

#: From so many letters on, a word one or two edits away from a known one is a slip for it; shorter
#: ones have neighbours by chance ("riso" and "miso"). Common practice of spelling correction.
LONG_WORD = 6
#: ``Index.vocabulary`` of a word that two names hold.
_IN_TWO_NAMES = 2 + math.log1p(2)
#: A word cut short is read as the longer one that at least so large a share of the names it may
#: begin mean; set on odd-numbered labelled lines with a word cut short (``benchmarks/lines.py``).
CLEARLY = 0.75
#: What an edit costs a word, and what a neighbour that makes it a name brings, in logs.
EDIT, NEIGHBOUR = 2.5, 4.0
#: What a slip of fingers or ears, and then a letter doubled or not, brings over another word, in logs:
#: more than any word is more usual than another.
LIKE_A_SLIP = 8.0
_EDIT, _FITS = math.exp(-EDIT), math.exp(NEIGHBOUR)
#: How sure a word is read as another from which a finger or an ear does not make it ("sayote",
#: "sapote"): as likely it is a word that nothing knows.
ANOTHER_WORD = 0.5
#: Letters that stand for one sound in some word; common practice.
_SOUNDS = tuple(map(frozenset, ("aeiouy", "ckqsxz", "fpvbw", "dt", "gj", "mn", "lr", "iyj", "uvw")))
_DOUBLE = re.compile(r"(.)(?=\1)")
#: Rows of a keyboard; neighbours are taken for one another.
_KEYS = {
    key: (x, y)
    for y, row in enumerate(("qwertyuiop", "asdfghjkl", "zxcvbnm"))
    for x, key in enumerate(row)
}


def is_slip(written: str, meant: str) -> bool:
    """Whether letters left out, put in or turned round, of one sound or of keys side by side, make a
    word of another."""
    from rapidfuzz.distance import Levenshtein

    return all(
        edit.tag != "replace" or _are_confused(written[edit.src_pos], meant[edit.dest_pos])
        for edit in Levenshtein.editops(written, meant)
    ) or sorted(written) == sorted(meant)


def _differ_in_a_double(one: str, other: str) -> bool:
    """Whether words are the same but for letters written once or twice: "pasata", "passata"."""
    return _DOUBLE.sub("", one) == _DOUBLE.sub("", other)


def _are_confused(one: str, other: str) -> bool:
    if any(one in sound and other in sound for sound in _SOUNDS):
        return True
    a, b = _KEYS.get(one), _KEYS.get(other)
    return a is None or b is None or (abs(a[0] - b[0]) <= 1 and abs(a[1] - b[1]) <= 1)


class Spelt(NamedTuple):
    """A phrase with its spelling corrected.

    Attributes:
        phrase: its words, canonical.
        corrected: (as written, as read) of each word that no food or name uses.
        unread: words that stay unknown.
        cut: words among those written that were cut short ("tom" for "tomato").
        sure: share of the names that those, and others that may be cut short, can mean which mean
            what was read.
    """

    phrase: Phrase
    corrected: tuple[tuple[str, str], ...] = ()
    unread: tuple[str, ...] = ()
    cut: frozenset[str] = frozenset()
    sure: float = 1.0


def correct(phrase: Phrase, index: Index) -> Spelt:
    """Read words that nothing uses as the nearest that something does.

    In order: two words that are one ("sweet corn"), one that is two ("buttermilk"), an edit or two
    away, a word cut short that few longer ones begin with ("toms") or that its neighbour settles
    ("sweet pot").
    """
    if phrase in index.names or not _doubtful(phrase, index):
        return Spelt(phrase)
    out: list[str] = []
    corrected: list[tuple[str, str]] = []
    unread: list[str] = []
    cut: dict[str, float] = {}
    doubt, at = 1.0, 0
    while at < len(phrase):
        word, after = phrase[at], phrase[at + 1 : at + 2]
        if after and _are_one(word, after[0], index):
            out.append(word + after[0])
            at += 2
            continue
        at += 1
        before = phrase[at - 2] if at > 1 else ""
        if _is_plain(word, index):
            read = word if after else _longer(phrase, index)
        elif _in_company(word, before, after, index):
            read = word
        elif (meant := _cut_short(word, before, after, index)) and meant.clear:
            read, cut[word] = meant.word, meant.share(meant.word)
        elif split := _split(word, index):
            out.extend(split)
            continue
        else:
            lonely = word in index.vocabulary and not index.rare(word)
            read = word if lonely else _nearest(word, before, after, index)
            if meant is not None and (read in meant.chance or len(word) < LONG_WORD):
                doubt = min(doubt, meant.share(read))
            if not read and word not in index.vocabulary:
                unread.append(word)
            elif read != word and not is_slip(word, read):
                doubt = min(doubt, ANOTHER_WORD)
        out.append(read or word)
        if read and read != word:
            corrected.append((word, read))
    done = tuple(out)
    if corrected:
        done = index.knowledge.canonical(done)
    sure = min((doubt, *cut.values()))
    return Spelt(done, tuple(corrected), tuple(unread), frozenset(cut), sure)


def is_foreign(asked: Phrase, spelt: Spelt, index: Index) -> bool:
    """True when no word that names is one of a words file or a table, nor a long one's slip.

    A word that only stands inside one longer name ("farine" of "farine de manioc") is no known one.

    Args:
        asked: the words of a name as written.
        spelt: the same words corrected.
    """
    if any(_is_known(w, index) and _names(w, index) for w in asked):
        return False
    naming = [w for w in asked if _names(w, index)]
    if not naming or asked in index.names:
        return not asked  # letters that no table is written in
    slips = {written for written, _ in spelt.corrected}
    return not all(w in slips and (len(w) >= LONG_WORD or w in spelt.cut) for w in naming)


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
        plain = (
            _is_short(word, index) or not word.isalpha()
            or (_is_known(word, index) and not index.rare(word))
        )  # fmt: skip
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
    from rapidfuzz import process  # here: most lines have no word that nothing knows
    from rapidfuzz.distance import OSA

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
            score = index.spelling[other] - EDIT * edits - cost
            score += _fits(before, other, after, index) + 1.0 * (other[0] == word[0])
            score += LIKE_A_SLIP * is_slip(word, other) + LIKE_A_SLIP * _differ_in_a_double(
                word, other
            )
            near.append((score, other))
    if word in index.vocabulary:  # the table itself uses it: correct only into a name that fits
        near = [(s, w) for s, w in near if _fits(before, w, after, index)]
    elif not near:  # an abbreviation: only with a neighbour that makes it a name
        for other in _written_out(word, index):
            fit = _fits(before, other, after, index)
            if fit:
                near.append((index.spelling[other] + fit, other))
    return max(near)[1] if near else ""


def _in_company(word: str, before: str, after: Phrase, index: Index) -> bool:
    """Whether a word that one name alone holds stands beside its neighbour there ("tom yum")."""
    beside = {(before, word), (word, *after[:1])}
    return any(
        pair in beside
        for at in index.name_postings.get(word, ())
        for pair in pairwise(index.name_list[at])
    )


def _without_s(word: str) -> str:
    """A word cut short, without the s of its plural ("toms")."""
    return word[:-1] if word.endswith("s") and len(word) > 3 else word


class _Meant(NamedTuple):
    """The longer word that a word is likeliest the beginning of, and how likely it means others."""

    word: str
    chance: dict[str, float]  # of the words that begin so, and of those an edit away

    @property
    def clear(self) -> bool:
        return self.share(self.word) >= CLEARLY

    def share(self, word: str) -> float:
        """How likely it means a word, one more name counted for the words that nobody listed."""
        return self.chance.get(word, 0.0) / (1.0 + sum(self.chance.values()))


def _cut_short(word: str, before: str, after: Phrase, index: Index) -> _Meant | None:
    """What a word means if it is cut short, or written without its vowels ("brst"); None where no
    longer word begins so or has its consonants.

    A word is as likely as the names that hold it are many; one alone in its phrase has to be a name
    itself, one that the table uses to make a name with its neighbour.
    """
    from rapidfuzz.distance import OSA

    begin, alone = _without_s(word), not (before or after)
    least = NEIGHBOUR if word in index.vocabulary and not alone else 1.0 if alone else 0.0
    chance: dict[str, float] = {}
    meaning: set[Phrase] = set()

    def count(other: str, weight: float) -> None:
        meant = index.knowledge.canonical((other,))
        if meant in meaning:  # "chilli" and "chile" are one more reason for "chili", not against it
            return
        fit = _fits(before, other, after, index)
        names = index.held_by(other)
        if names and fit >= least and not index.rare(other):
            meaning.add(meant)
            chance[other] = names * weight * (_FITS if fit >= NEIGHBOUR else 1.0)

    for other in (*index.longer_than(begin), *index.written_without_vowels(begin)):
        count(other, 1.0)
    if not chance:
        return None
    best = max(chance, key=lambda w: (chance[w], w))
    for other in index.spelt_like(word, 1):
        if other not in chance and OSA.distance(word, other, score_cutoff=1) == 1:
            count(other, _EDIT)
    return _Meant(best, chance)


def _fits(before: str, word: str, after: Phrase, index: Index) -> float:
    """How well a word makes names, alone and with its neighbours."""
    fit, canonical = 0.0, index.knowledge.canonical
    if before and canonical((before, word)) in index.names:
        fit += NEIGHBOUR
    if after and canonical((word, *after)) in index.names:
        fit += NEIGHBOUR
    if canonical((word,)) in index.names:
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
