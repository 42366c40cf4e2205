"""From a parsed line to what is asked of the index: words, head, states, fat, spelling corrected."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from pipeline.foods.words import singular, words
from pipeline.lines.model import ParsedLine
from pipeline.lines.parts import is_participle
from pipeline.lines.vocabulary import LEXICON
from pipeline.match.index import LONGEST_NAME, Index
from pipeline.match.knowledge import GLUE, Phrase
from pipeline.match.spelling import Spelt, correct, is_foreign
from pipeline.match.states import weighed
from pipeline.resources import word_lists

_LISTS = {name: frozenset(own) for name, own in word_lists("match_words.csv").items()}
_LEFT_OUT, _PARTS = _LISTS["left_out"], _LISTS["part"]
_NONE: frozenset[str] = frozenset()
_PACKED_UNITS, _FRESH_UNITS = _LISTS["packed_unit"], _LISTS["fresh_unit"]


@dataclass(slots=True)
class Query:
    """What is looked for; equal queries are answered once, and none is ever changed.

    Attributes:
        phrase: words of the name in order, canonical, spelling corrected.
        states: canonical states said on the line that a food may answer or contradict, the tin or
            jar it comes in included.
        fat_pct: fat asked for, g per 100 g, or None.
        cocoa_pct: cocoa solids asked for, g per 100 g, or None.
        said_states: positions of ``phrase``, where it is no whole name, whose words only say a state
            of the line.
        said_at: those positions with the states they say.
        corrected: (as written, as read) of each word that no food or name uses.
        unread: words that stay unknown.
        rest: words of everything on the line that may describe the food, canonical; empty where
            they are those of ``phrase``.
        in_parts: ``rest`` is a description of the table, and stands on the line in parts with commas
            between them, as tables write.
        noted: those of them that the parser took for preparation or a remark.
        sure: see ``Spelt``.
        unknown: no word of the name is in a words file or a table, nor a plain slip for one that
            is: another language, perhaps.
        sorted_words: ``rest``, or ``phrase`` where that is empty, in the order of the alphabet.
    """

    phrase: Phrase
    states: frozenset[str]
    fat_pct: float | None = None
    cocoa_pct: float | None = None
    said_states: frozenset[int] = frozenset()
    said_at: tuple[tuple[int, frozenset[str]], ...] = ()
    corrected: tuple[tuple[str, str], ...] = ()
    unread: tuple[str, ...] = ()
    rest: Phrase = ()
    noted: frozenset[str] = frozenset()
    in_parts: bool = False
    unknown: bool = False
    sure: float = 1.0
    sorted_words: str = field(repr=False, compare=False, default="")
    _hash: int = field(init=False, repr=False, compare=False, default=0)

    def __post_init__(self) -> None:
        self._hash = hash((self.phrase, self.rest, self.states, self.noted))
        if not self.sorted_words:
            self.sorted_words = " ".join(sorted(self.rest or self.phrase))

    def __hash__(self) -> int:
        return self._hash


class _Name(NamedTuple):
    """The words of a name, whatever else its line says."""

    spelt: Spelt
    phrase: Phrase  # the words of ``spelt`` in the order in which names have them
    foreign: bool


def _name(
    raw: Phrase, said: Phrase, index: Index, *, squeezed: bool, as_written: bool
) -> _Name:  # fmt: skip
    """Read a name; kept by ``Index.names_read``.

    Args:
        raw: its words.
        said: the same, canonical, where known; else empty.
        squeezed: it is measured by what is squeezed out of it.
        as_written: a table's own name, spelt as the table spells it.
    """
    key = raw, squeezed, as_written
    known: _Name | None = index.names_read.get(key)
    if known is None:
        phrase = said or index.knowledge.canonical(raw)
        if squeezed and (*phrase, "juice") in index.names:
            phrase = (*phrase, "juice")
        spelt = Spelt(phrase) if as_written else correct(phrase, index)
        foreign = not as_written and is_foreign(phrase, spelt, index)
        phrase = _without_denied(_turned(spelt.phrase, index), index)
        known = index.names_read[key] = _Name(spelt, phrase, foreign)
    return known


def query_of(line: ParsedLine, index: Index, name: str | None = None) -> Query:
    """Build the query of a line, or of one of its ``alternatives`` given as ``name``."""
    raw = words(line.name if name is None else name)
    if line.part in _PARTS and line.part not in raw:
        raw = (*raw, line.part)
    written, rest = raw, tuple[str, ...]()
    if name is None:
        written = words(line.rest)
        rest = index.knowledge.canonical(written)
        if "," not in line.rest or " ".join(sorted(rest)) not in index.by_words:
            rest = tuple(w for w in rest if len(w) > 1 or w in raw)  # "e" of "e.g."
    in_order = " ".join(sorted(rest))
    as_written = in_order in index.by_words
    squeezed = "squeeze" in [m.unit for m in line.measures]
    read = _name(
        raw, rest if written == raw else (), index, squeezed=squeezed, as_written=as_written
    )
    states = line.states
    if counted := said_by_measures(line):
        states |= counted
    if not index.knowledge.foreign.isdisjoint(written):
        states |= index.knowledge.states_of(written)
    phrase = _longer_name(read.phrase, line, states, index)
    # of a whole name no word is there for a state alone: "full cream milk powder"
    said = {} if phrase in index.names else _said_states(phrase, states, index)
    if said:  # "green pitted olives" are green olives, pitted
        plain = tuple(w for at, w in enumerate(phrase) if at not in said or weighed(said[at]))
        if len(plain) > 1 and plain in index.names:
            phrase, said = plain, {}
    noted = set[str]()
    if line.notes:
        said_beside = words(line.notes)
        noted = {*said_beside, *index.knowledge.canonical(said_beside)}
    if name is None:
        noted |= _beside(line, written, index)
    if noted:
        noted.difference_update(phrase)
    if noted and not as_written:  # remarks do not make another question
        rest, noted = tuple(w for w in rest if w not in noted), set()
        in_order = " ".join(sorted(rest))
    if rest == phrase or (
        len(rest) == len(phrase) and not set(rest).difference(phrase)
        and in_order == " ".join(sorted(phrase))
    ):  # fmt: skip
        rest = ()
    elif not rest:
        in_order = " ".join(sorted(phrase))
    return Query(
        phrase, weighed(states), _fat_asked(line, states), line.cocoa_pct, frozenset(said),
        tuple(sorted(said.items())) if said else (), read.spelt.corrected, read.spelt.unread, rest,
        frozenset(noted), "," in line.rest and in_order in index.by_words, read.foreign,
        read.spelt.sure, in_order,
    )  # fmt: skip


def _fat_asked(line: ParsedLine, states: frozenset[str]) -> float | None:
    """Fat that a line asks for, g per 100 g."""
    if line.fat_pct is not None:
        return line.fat_pct
    if line.lean_pct is not None:
        return max(0.0, 100.0 - line.lean_pct)
    return 0.0 if "fat_free" in states else None


def _beside(line: ParsedLine, written: Phrase, index: Index) -> set[str]:
    """Words of a line that are no part of its first food: other foods, and further amounts."""
    beside: set[str] = set()
    if line.alternatives:
        canonical = index.knowledge.canonical
        others = [words(other) for other in line.alternatives]
        beside = {w for other in others for w in canonical(other)}
        beside.update(GLUE)
        first = written.index("or") if "or" in written else len(written)
        named = {w for other in others for w in other}
        last = max((at for at, w in enumerate(written) if w in named), default=-1)
        # an amount of its own too: "ghee (or two sticks butter)"
        beside.update(canonical(written[first : last + 1]))
    amounts = _amount_words()
    if not amounts.isdisjoint(written):  # "sugar (¼ cup + 1 tablespoon)"
        beside.update(w for w in written if w in amounts or w.isdecimal())
    return beside


@cache
def _amount_words() -> frozenset[str]:
    """Words for units of mass and volume."""
    return frozenset(
        word for word, entry in LEXICON.items()
        if any(unit.kind in ("mass", "volume") for _, unit, _ in entry.units)
    )  # fmt: skip


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
    """States that the measures say: a tin and what is not drained are canned, a sprig is fresh, a
    number counted."""
    said = {"canned"} if "undrained" in line.states else set[str]()
    for measure in line.measures:
        if measure.unit in _PACKED_UNITS:
            said.add("canned")
        elif measure.unit in _FRESH_UNITS:
            said.add("fresh")
        elif measure.unit == "piece" and measure.each is None:
            said.add("counted")
    last = line.name.rpartition(" ")[2]
    if last.endswith("s") and singular(last) != last:  # "200 g peppers" are things, no spice
        said.add("counted")
    return frozenset(said) if said else _NONE


def _longer_name(phrase: Phrase, line: ParsedLine, states: frozenset[str], index: Index) -> Phrase:
    """The name with a word that the parser set off, where that is a name of its own.

    Knife work before the noun ("diced beef"), the piece it comes in ("turkey rasher"), or a state
    said after it ("sardines, in oil").
    """
    if not phrase or len(phrase) > 5:
        return phrase
    names = index.names
    if (longer := _with_notes(phrase, line, index)) is not None:
        return longer
    if states and phrase in index.names_but_state and (telling := states - {"counted"}):
        written = line.remarks.words
        for state in sorted(telling, key=lambda s: (s in _PLAIN_STATES, s)):
            for said in index.state_words.get(state, ()):
                if said[0] in phrase or not _holds(written, said):
                    continue
                for longer in ((*said, *phrase), (*phrase, *said)):
                    if longer in names:
                        return longer
    return phrase


def _with_notes(phrase: Phrase, line: ParsedLine, index: Index) -> Phrase | None:
    """A name of its own that a phrase makes with a word before it, its unit, or a note after it."""
    names = index.names
    if line.notes and phrase in index.ends_of_names:
        before = line.remarks.words_before(line.name)
        if before and before[-1] in words(line.notes):
            written = (before[-1], *words(line.name))  # "crushed chillies", as a regional name
            for longer in ((before[-1], *phrase), index.knowledge.canonical(written)):
                if longer in names:
                    return longer
    for measure in line.measures:
        if measure.kind == "count" and (*phrase, measure.unit) in names:
            return (*phrase, measure.unit)
    for note in line.notes.split(", ") if line.notes else ():
        said = words(note)
        if not 0 < len(said) <= 4:
            continue
        made = index.knowledge.canonical((*said, *phrase))
        if len(said) > 1:
            found = next((name for name in ((*said, *phrase), made) if name in names), None)
            if found is not None:
                return found
            continue
        if is_participle(note):
            if made and _is_product(made, index):
                return made
        elif line.remarks.in_brackets(note):  # "pumpkin (butternut)"
            kinds = ((*said, *phrase), (*phrase, *said), made)
            kind = next((name for name in kinds if name != phrase and name in names), None)
            if kind is not None:
                return kind
    return None


#: What foods are bought as, whatever a cook does: "beef, minced", "cream, soured", "oats, rolled".
_MADE_SO = frozenset({"ground", "fermented", "dry"})


def _is_product(name: Phrase, index: Index) -> bool:
    """Whether a name means a food that is bought ground, soured or dry."""
    at = index.names.get(name)
    senses = index.columns.senses(at) if at is not None else ()
    return any(
        sense.default and sense.food >= 0 and not _MADE_SO.isdisjoint(index.foods.states[sense.food])
        for sense in senses
    )  # fmt: skip


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
    if not states or index.state_starts.keys().isdisjoint(phrase):
        return said
    longest, at = index.state_starts, 0
    while at < len(phrase):
        for size in range(min(longest.get(phrase[at], 0), len(phrase) - at), 0, -1):
            found = table.get(phrase[at : at + size], frozenset()) & states
            if found:
                said.update(dict.fromkeys(range(at, at + size), found))
                at += size
                break
        else:
            at += 1
    return said


def _turned(phrase: Phrase, index: Index) -> Phrase:
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
