"""Further foods of a line, each with an amount of its own."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.draft import Draft
from pipeline.lines.measures import read_measure
from pipeline.lines.parts import is_adverb, is_participle, is_work
from pipeline.lines.tokens import WORD
from pipeline.lines.vocabulary import CLOSING_WORDS, FUNCTION_WORDS, LEXICON, NO_WORD, group

#: Work whose water is poured away: none of it is in the dish.
_POURED_OFF = group("poured_off")
_JOINS = frozenset({"or", "and", "plus"})
#: Foods that stand on lines without an amount as a rule.
SEASONINGS = group("seasoning_alone")


def comma_end(d: Draft, i: int, limit: int) -> int:
    """Where the comma part around token ``i`` ends; a dash between spaces ends it too."""
    t = d.t
    while i < limit and t.word[i] not in (",", ";", "(", ")") and not t.is_dash(i):
        i += 1
    return i


def same_food(d: Draft, k: int, limit: int) -> bool:
    """Whether the words from ``k`` name the line's own food again."""
    t = d.t
    own = {singular(w) for w in d.name}
    seen = False
    while k < limit and t.kind[k] == WORD and t.phrase(k, "stopflag") is None:
        if singular(t.word[k]) not in own:
            return False
        seen = True
        k += 1
    return seen


def second_food(d: Draft, i: int, begin: int, limit: int) -> int:
    """Another food with its own amount from token ``begin`` on; the first one ends at ``i``.

    Outside parentheses all that follows belongs to it, and may hold further foods.
    """
    stop = comma_end(d, begin, limit) if d.depth else limit
    if d.t.word[begin - 1] in ("with", "in"):  # "lentils cooked in 500 ml water"
        while i > 1 and is_work(d.t.word[i - 1]):
            i -= 1
    d.others.append((i, begin, stop))
    d.keep_note(i, stop)
    return stop


def names_another(d: Draft, k: int, limit: int, *, counted: bool = False) -> bool:
    """Whether the word at ``k``, after an amount, begins the name of another food.

    Words of a kind ("milk", "rye") name one after a weight or volume only: after a number
    they tell kinds apart ("3 loaves, 1 rye").
    """
    t = d.t
    if t.kind[k] != WORD or k >= limit or t.word[k] in FUNCTION_WORDS or t.past_total(k):
        return False
    stop = k
    new = False
    while stop < limit and t.kind[stop] == WORD:
        word = t.word[stop]
        entry = LEXICON.get(word, NO_WORD)
        if entry.role in _JOINS or entry.number is not None:
            break
        if word in CLOSING_WORDS or t.phrase(stop, "stopflag") is not None:
            break
        if word in FUNCTION_WORDS:
            return False  # "1 cut into wedges", "20 g kept back"
        kind = (
            not counted and entry.modifier in ("kind", "flavour")
            and not (stop > k and is_participle(t.word[stop - 1]))  # "20 g kept back"
        )  # fmt: skip
        new = new or kind or is_noun(word)
        stop += 1
    return new and not same_food(d, k, limit)


def mixed_in(d: Draft, i: int, first: int, limit: int) -> int:
    """ "mixed with 2 tbsp water", "fried in 1 tbsp oil": the token after it, 0 when it is none.

    Args:
        i: the "with" or "in".
        first: where the note begins that holds it.
        limit: token at which line or parenthesis ends.
    """
    t = d.t
    reading = read_measure(d.t, i + 1, leading=True)
    if reading is None or reading.next >= limit:
        return 0
    unit = reading.measures[0]
    if unit.kind not in ("mass", "volume", "trade") or not names_another(d, reading.next, limit):
        return 0
    work = t.word[max(first - 1, 0) : i]  # "cooked | down with 2 tbsp sugar"
    if work and not any(map(is_work, work)):
        return 0  # "start with 1 tsp pepper"
    if "water" in t.word[reading.next : limit] and not _POURED_OFF.isdisjoint(work):
        return 0
    cut = first if d.depth else i
    while cut > first and (is_work(t.word[cut - 1]) or t.word[cut - 1] in ("and", "together")):
        cut -= 1
    return second_food(d, cut, i + 1, limit)


def stands_alone(d: Draft, i: int) -> bool:
    """Whether all before token ``i`` are foods without an amount: "salt, pepper, 1 tbsp oil".

    One food alone before an amount may be told apart from its kind ("beef, 500 g mince"); a
    seasoning may not.
    """
    t = d.t
    foods, past = 1, 0
    for k in range(i):
        flag = t.phrase(k, "flag")
        past = max(past, flag[1] if flag is not None else 0)
        if k < past:  # "salt to taste, 1 tbsp oil"
            continue
        word = t.word[k]
        if word in (",", ";", "&", "+", "and"):
            foods += k + 1 < i
            continue
        if t.kind[k] != WORD:
            return False
        entry = LEXICON.get(word, NO_WORD)
        found = t.phrase(k, "statestop")
        if entry.prep or entry.number is not None or is_participle(word) or (
            found is not None and not found[0].noun
        ):  # fmt: skip
            return False
    return foods > 1 or not SEASONINGS.isdisjoint(d.name)


def is_noun(word: str) -> bool:
    """Whether a word may name a food by itself: no size, state, kind or piece."""
    entry = LEXICON.get(word, NO_WORD)
    if is_participle(word) or is_adverb(word):
        return False
    if entry.role == "part":
        return True
    if entry.noun is not None:
        return entry.noun.keep
    listed = entry.role or entry.prep or entry.modifier or entry.sizes or entry.units or entry.alone
    return not listed
