"""From a parsed line to what is asked of the index: words, head, states, fat, misspellings mended."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from pipeline.foods.words import singular, words
from pipeline.lines.model import ParsedLine
from pipeline.lines.vocabulary import LEXICON
from pipeline.match.index import LONGEST_NAME, Index
from pipeline.match.knowledge import Phrase

#: Words after which a phrase no longer names its food: "tuna in spring water".
PREPOSITIONS = frozenset({"in", "with", "from", "for", "on", "without", "per", "like", "at", "to"})
GLUE = frozenset(
    {"of", "and", "or", "the", "a", "an", "your", "some", "&", "any", "my", "such", "as"}
)

#: Units that say the thing came out of a tin or a jar.
PACKED_IN = frozenset({"tin", "jar"})

#: Units in which only fresh plants come.
FRESH_UNITS = frozenset(
    {"sprig", "bunch", "handful", "leaf", "stalk", "head", "cm", "inch", "bulb"}
)

#: What a part of a thing is called inside a name.
PARTS = {"juice": "juice", "zest": "zest", "yolk": "yolk", "white": "white"}


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for; equal queries are answered once.

    Attributes:
        phrase: words of the name in order, canonical, mended.
        states: canonical states said on the line, the tin or jar it comes in included.
        fat_pct: fat asked for, g per 100 g, or None.
        cocoa_pct: cocoa solids asked for, g per 100 g, or None.
        said_states: positions of ``phrase`` whose words only say one of ``states``.
        said_at: those positions with the states they say.
        mended: (as written, as read) of each word that no food or name uses.
        unread: words that stay unknown.
        rest: words of everything on the line that may describe the food, canonical.
        in_parts: the line is written in parts, comma between, as tables write.
        noted: those of them that the parser took for preparation or a remark.
        unknown: no word of the name is in a words file or a table, nor a plain slip for one that
            is: another language, perhaps.
    """

    phrase: Phrase
    states: frozenset[str]
    fat_pct: float | None = None
    cocoa_pct: float | None = None
    said_states: frozenset[int] = frozenset()
    said_at: tuple[tuple[int, frozenset[str]], ...] = ()
    mended: tuple[tuple[str, str], ...] = ()
    unread: tuple[str, ...] = ()
    rest: Phrase = ()
    noted: frozenset[str] = frozenset()
    in_parts: bool = False
    unknown: bool = False
    _hash: int = field(init=False, repr=False, compare=False, default=0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_hash", hash((self.phrase, self.rest, self.states, self.noted)))

    def __hash__(self) -> int:
        return self._hash


def query_of(line: ParsedLine, index: Index, name: str | None = None) -> Query:
    """Build the query of a line, or of one of its ``alternatives`` given as ``name``."""
    raw = words(line.name if name is None else name)
    if line.part in PARTS and PARTS[line.part] not in raw:
        raw = (*raw, PARTS[line.part])
    phrase = index.knowledge.canonical(raw)
    if any(m.unit == "squeeze" for m in line.measures) and (*phrase, "juice") in index.names:
        phrase = (*phrase, "juice")
    written = words(line.rest) if name is None else raw
    rest = index.knowledge.canonical(written) if name is None else ()
    mended: tuple[tuple[str, str], ...] = ()
    unread: tuple[str, ...] = ()
    unknown = False
    if not index.described(rest):  # a table's own name is spelt as the table spells it
        asked, (mended, unread, phrase) = phrase, _mend(phrase, index)
        unknown = _unknown(asked, mended, index)
    phrase = _without_denied(_turn_of(phrase, index), index)
    states = line.states | said_by_measures(line) | index.knowledge.states_of(written)
    phrase = _longer_name(phrase, line, states, index)
    fat = line.fat_pct
    if fat is None and line.lean_pct is not None:
        fat = max(0.0, 100.0 - line.lean_pct)
    if fat is None and "fat_free" in states:
        fat = 0.0
    said = _said_states(phrase, states, index)
    noted = set(words(line.notes)) if line.notes else set()
    if name is None:
        noted |= _beside(line, written, index)
    noted.difference_update(phrase)
    if noted and not index.described(rest):  # remarks do not make another question
        rest, noted = tuple(w for w in rest if w not in noted), set()
    return Query(
        phrase, states, fat, line.cocoa_pct, frozenset(said), tuple(sorted(said.items())), mended,
        unread, rest, frozenset(noted), "," in line.rest, unknown,
    )  # fmt: skip


def _beside(line: ParsedLine, written: Phrase, index: Index) -> set[str]:
    """Words of a line that are no part of its first food: other foods, and further amounts."""
    others = [words(other) for other in line.alternatives]
    beside = {w for other in others for w in index.knowledge.canonical(other)}
    if beside:
        beside.update(GLUE)
        first = written.index("or") if "or" in written else len(written)
        named = {w for other in others for w in other}
        last = max((at for at, w in enumerate(written) if w in named), default=-1)
        # an amount of its own too: "ghee (or two sticks butter)"
        beside.update(index.knowledge.canonical(written[first : last + 1]))
    amounts = _amount_words().intersection(written)
    if amounts:  # "sugar (¼ cup + 1 tablespoon)"
        beside.update(amounts, (w for w in written if w.isdecimal()))
    return beside


@cache
def _amount_words() -> frozenset[str]:
    """Words for units of mass and volume."""
    return frozenset(
        word for word, entry in LEXICON.items()
        if any(unit.kind in ("mass", "volume") for _, unit, _ in entry.units)
    )  # fmt: skip


#: What is left out without changing what a food is made of by much, so that few tables say so.
_LEFT_OUT = frozenset({"gluten", "nut", "lactose"})


def _without_denied(phrase: Phrase, index: Index) -> Phrase:
    """ "Gluten-free white chocolate chips" are white chocolate chips where no name says more."""
    if "free" not in phrase or phrase in index.names:
        return phrase
    at = phrase.index("free")
    if not at or phrase[at - 1] not in _LEFT_OUT:
        return phrase
    plain = (*phrase[: at - 1], *phrase[at + 1 :])
    return plain if plain in index.names else phrase


def said_by_measures(line: ParsedLine) -> frozenset[str]:
    """States that the way of measuring says: a tin is canned, a sprig fresh, a number counted."""
    said = set()
    for measure in line.measures:
        if measure.unit in PACKED_IN:
            said.add("canned")
        elif measure.unit in FRESH_UNITS:
            said.add("fresh")
        elif measure.unit == "piece" and measure.each is None:
            said.add("counted")
    last = line.name.rpartition(" ")[2]
    if last.endswith("s") and singular(last) != last:  # "200 g peppers" are things, no spice
        said.add("counted")
    return frozenset(said)


def _longer_name(phrase: Phrase, line: ParsedLine, states: frozenset[str], index: Index) -> Phrase:
    """The name with a word that the parser set apart, where that is a name of its own.

    Knife work before the noun ("diced beef"), the piece it comes in ("turkey rasher"), or a state
    said after it ("sardines, in oil").
    """
    if not phrase or len(phrase) > 5:
        return phrase
    names = index.names
    before = line.remarks.words_before(line.name) if line.notes else ()
    if before and (before[-1], *phrase) in names and before[-1] in words(line.notes):
        return (before[-1], *phrase)
    for measure in line.measures:
        if measure.kind == "count" and (*phrase, measure.unit) in names:
            return (*phrase, measure.unit)
    for note in line.notes.split(", ") if line.notes else ():
        said = words(note)
        if 1 < len(said) <= 4 and ((*said, *phrase) in names):
            return (*said, *phrase)
    telling = states - {"counted"}
    if telling:
        written = line.remarks.words
        for state in sorted(telling, key=lambda s: (s in _PLAIN_STATES, s)):
            for said in index.state_words.get(state, ()):
                if said[0] in phrase or not _holds(written, said):
                    continue
                for longer in ((*said, *phrase), (*phrase, *said)):
                    if longer in names:
                        return longer
    return phrase


#: States tried last: a name with the packing medium or the sugar says more than one with these.
_PLAIN_STATES = frozenset({"canned", "drained", "fresh", "frozen", "cooked", "raw", "rinsed"})


def _holds(written: Phrase, said: Phrase) -> bool:
    """True when the words stand in the text in this order, side by side."""
    size = len(said)
    return any(written[at : at + size] == said for at in range(len(written) - size + 1))


def _said_states(phrase: Phrase, states: frozenset[str], index: Index) -> dict[int, frozenset[str]]:
    """Positions whose words say a state that the parser has already read, and the state."""
    table = index.knowledge.state_phrases
    said: dict[int, frozenset[str]] = {}
    if not states or index.state_starts.isdisjoint(phrase):
        return said
    at = 0
    while at < len(phrase):
        for size in range(min(4, len(phrase) - at), 0, -1):
            found = table.get(phrase[at : at + size], frozenset()) & states
            if found:
                said.update(dict.fromkeys(range(at, at + size), found))
                at += size
                break
        else:
            at += 1
    return said


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
    idle, single = index.knowledge.harmless, index.single_names
    out: list[str] = []
    mended: list[tuple[str, str]] = []
    unread: list[str] = []
    at = 0
    while at < len(phrase):
        word = phrase[at]
        before = phrase[at - 1] if at else ""
        after = phrase[at + 1 : at + 2]
        if after and word + after[0] in single and (word, *after) not in index.names:
            out.append(word + after[0])
            at += 2
            continue
        if word in idle or word in GLUE or word in PREPOSITIONS or len(word) < 3:
            out.append(word)
        elif not index.rare(word):
            grown = _grow(word, before, index) if at == len(phrase) - 1 else None
            out.append(grown or word)
            if grown:
                mended.append((word, grown))
        elif not word.isalpha():
            out.append(word)
        elif split := _split(word, index):
            out.extend(split)
        elif near := _nearest(word, before, after, index):
            out.append(near)
            mended.append((word, near))
        else:
            out.append(word)
            if word not in known:
                unread.append(word)
        at += 1
    done = tuple(out)
    return tuple(mended), tuple(unread), index.knowledge.canonical(done) if mended else done


#: From so many letters on, a word one or two edits away from a known one is a slip for it; shorter
#: ones have neighbours by chance ("riso" and "miso"). Common practice of spelling correction.
LONG_WORD = 6


def _unknown(asked: Phrase, mended: tuple[tuple[str, str], ...], index: Index) -> bool:
    """True when no word that names is one of a words file or a table, nor a long one's slip.

    A word that only stands inside one longer name ("farine" of "farine de manioc") is no known one.
    """
    known, names, harmless = index.vocabulary, index.names, index.knowledge.harmless
    states = index.knowledge.state_phrases
    told = [
        w for w in asked
        if w not in harmless and w not in GLUE and w not in PREPOSITIONS and (w,) not in states
        and (len(w) >= 3 or (w,) in names) and w.isalpha()
    ]  # fmt: skip
    if not told or asked in names:
        return not asked  # letters that no table is written in
    if any(
        w in index.postings or (w,) in names or known.get(w, 0.0) >= _IN_TWO_NAMES for w in told
    ):
        return False
    slips = {written for written, _ in mended}
    return not all(w in slips and len(w) >= LONG_WORD for w in told)


#: ``Index.vocabulary`` of a word that two names hold.
_IN_TWO_NAMES = 2 + math.log1p(2)


def _split(word: str, index: Index) -> Phrase | None:
    for cut in range(3, len(word) - 2):
        pair = (word[:cut], word[cut:])
        if pair in index.names:
            return pair
    return None


def _grow(word: str, before: str, index: Index) -> str | None:
    """A word cut short after one that settles it: ``sweet pot`` → ``potato``."""
    if not before or (word,) in index.names or (before, word) in index.names:
        return None
    pairs = (index.name_list[at] for at in index.name_postings.get(before, ()))
    longer = [p[1] for p in pairs if len(p) == 2 and p[0] == before and p[1].startswith(word)]
    return max(longer, key=lambda w: (index.vocabulary[w], w)) if longer else None


def _nearest(word: str, before: str, after: Phrase, index: Index) -> str | None:
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
            if other in index.knowledge.foreign:  # a slip is mended in English only
                continue
            score = index.vocabulary[other] - 2.5 * edits - cost
            score += _fits(before, other, after, index) + 1.0 * (other[0] == word[0])
            near.append((score, other))
    if word in index.vocabulary:  # the table itself uses it: mend only into a name that fits
        near = [(s, w) for s, w in near if _fits(before, w, after, index)]
    elif not near:  # an abbreviation: only with a neighbour that makes it a name
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
