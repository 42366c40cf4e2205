"""The food phrase after reading: trailing preparation cut, count nouns given to the measure,
alternatives completed."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.foods.words import singular
from pipeline.lines.model import Measure
from pipeline.lines.vocabulary import (
    LEXICON,
    NAMING_CUTS,
    NO_WORD,
    SHARED_HEADS,
    SINGULAR,
    UNITS,
    UnitWord,
    group,
)

_LEADING = group("lead")
_TRAILING = group("trail")
_NO_NOUN_BEFORE = frozenset({"the", "a", "an", "of", "on", "and"})
#: Last words of meat and fish cuts that say more than "fillet" or "half" after them.
_CUTS = frozenset({"breast", "thigh", "leg", "wing", "drumstick"})


_STAND_ALONE = SHARED_HEADS["*"]


class Finished(NamedTuple):
    """``name``, ``alternatives``, ``each_of`` as in ``ParsedLine``; ``measures`` with nouns."""

    name: str
    alternatives: tuple[str, ...]
    measures: list[Measure]
    each_of: tuple[str, ...] = ()


def finish_name(
    name: list[str],
    kind_parts: list[list[str]],
    alternatives: list[list[str]],
    measures: list[Measure],
    notes: list[str],
    *,
    each: bool = False,
) -> Finished:
    """Turn gathered words into the name phrase; preparation words move to ``notes``.

    Args:
        name: words of the food phrase in order.
        kind_parts: later comma parts that say which kind ("rice, brown"), in written order.
        alternatives: the same for each other food.
        measures: amounts; the first may get its unit from the name's last word.
        notes: gets the words taken out of the name.
        each: the name lists foods of which each has the amount.
    """
    if each:
        return _each(name, measures, notes)
    name = _tidy(name, notes)
    others: list[list[str]] = []
    if alternatives:
        others = [other for words in alternatives if (other := _tidy(words, []))]
    if others:
        if not name:
            name, others = others[0], others[1:]
        if others:
            name, others = _alternatives(name, others)
    for part in kind_parts:  # "yogurt, greek, plain": each narrows what stands before it
        name = [*part, *name]
    if not name and len(measures) == 1 and measures[0].kind == "trade":
        name, measures = [measures[0].unit], []  # "sprinkles, to decorate": the thing itself
    if measures and measures[0].kind == "count":
        last = name[-1] if name else ""
        name, measures = _count_noun(name, measures)
        if measures[0].unit != "piece":  # "2 cod or haddock fillets"
            others = [o[:-1] if len(o) > 1 and o[-1] == last not in name else o for o in others]
    named = tuple(dict.fromkeys(" ".join(o) for o in others)) if others else ()
    return Finished(" ".join(name), named, measures)


def _each(name: list[str], measures: list[Measure], notes: list[str]) -> Finished:
    """ "each red and green pepper": the foods apart, and joined by "and"."""
    foods: list[list[str]] = [[]]
    for word in name:
        if word in ("and", ","):
            foods.append([])
        else:
            foods[-1].append(word)
    foods = [tidied for food in foods if (tidied := _tidy(food, notes))]
    if not foods:
        return Finished("", (), measures)
    foods = [_complete(food, foods[-1]) for food in foods]
    each_of = tuple(" ".join(food) for food in foods)
    if len(each_of) == 1:
        each_of = ()
    return Finished(" and ".join(" ".join(food) for food in foods), (), measures, each_of)


def _tidy(words: list[str], notes: list[str]) -> list[str]:
    """Cut trailing participles and leading or inner preparation words out of a name."""
    if _TIDIED.isdisjoint(words):
        return words
    start, end = 0, len(words)
    while start < end and words[start] in _LEADING:
        start += 1
    while end > start and words[end - 1] in _TRAILING:
        end -= 1
    cut = end
    while cut > start:
        entry = LEXICON.get(words[cut - 1])
        if entry is None or not (
            entry.prep or words[cut - 1] == "and" or (entry.effects and _is_state(words[cut - 1]))
        ):
            break
        cut -= 1
    if start < cut < end:
        if words[cut] == "and" and cut + 1 < end:
            notes.append(" ".join(words[cut + 1 : end]))
        else:
            notes.append(" ".join(words[cut:end]))
        end = cut
    kept: list[str] = []
    for at in range(start, end):
        word = words[at]
        entry = LEXICON.get(word)
        if entry is not None and entry.prep:
            after = words[at + 1] if at + 1 < end else ""
            if after not in entry.stay_before:
                notes.append(word)
                if len(kept) > 1 and kept[-1] == "and" and _adjective(kept[-2]):
                    kept.pop()  # "cooked and cooled quinoa"
                continue
            if entry.prep == "cut":
                notes.append(word)
        kept.append(word)
    while kept and kept[0] in _LEADING:
        kept.pop(0)
    while kept and kept[-1] in _TRAILING:
        kept.pop()
    return kept or words[start:end]


#: All words that ``_tidy`` looks at.
_TIDIED = _LEADING | _TRAILING | {
    text for text, word in LEXICON.items()
    if word.prep or any(not rest and e.kind == "state" for rest, e in word.effects)
}  # fmt: skip


def _is_state(word: str) -> bool:
    return any(
        not rest and effect.kind == "state" and not effect.noun
        for rest, effect in LEXICON[word].effects
    )


def _alternatives(name: list[str], others: list[list[str]]) -> tuple[list[str], list[list[str]]]:
    """Full names of all foods that "or" parts: each may lack what the next or the first says."""
    noun = [w for w in name if not _adjective(w)]
    full: list[list[str]] = []
    after = others[-1]
    for words in [*reversed(others), name]:
        done = _complete(words, after)
        full.insert(0, done)
        after = done if len(done) > 1 else after
    name, others = full[0], full[1:]
    for at, words in enumerate(others):
        if all(map(_adjective, words)):
            others[at] = [*words, *noun]  # "(or 1 tsp dried)"
        elif len(name) > 1 and _is_cut(words[0]) and _is_cut(name[-1]):
            others[at] = [*name[:-1], *words]  # "chicken breasts or thighs"
    return name, others


def _is_cut(word: str) -> bool:
    noun = _noun(word)
    return noun is not None and noun.unit in NAMING_CUTS


def _complete(words: list[str], last: list[str]) -> list[str]:
    """ "goose or duck fat": the first takes the head of the last, unless it stands alone."""
    if len(last) < 2 or words is last:
        return words
    head, own = last[-1], words[-1]
    if own == head or own in _STAND_ALONE:
        return words
    one, other = LEXICON.get(own), LEXICON.get(last[0])
    same_class = (
        one is not None and other is not None
        and one.modifier not in ("", "kind") and one.modifier == other.modifier
    )  # fmt: skip
    if same_class or (_adjective(own) and _adjective(last[0])):
        return [*words, *last[1:]]  # "crunchy or smooth peanut butter"
    alone = SHARED_HEADS.get(head)
    if alone is not None:
        return words if own in alone or own in SHARED_HEADS else [*words, head]
    return [*words, head] if _adjective(own) else words


def _adjective(word: str) -> bool:
    entry = LEXICON.get(word)
    if entry is None and "-" in word:  # "semi-ripe", "over-ripe": as its last part
        entry = LEXICON.get(word.rpartition("-")[2])
        return entry is not None and entry.modifier == "quality"
    return entry is not None and (
        entry.modifier == "quality" or (bool(entry.effects) and _is_state(word))
    )


def _count_noun(name: list[str], measures: list[Measure]) -> tuple[list[str], list[Measure]]:
    """ "4 salmon fillets" counts fillets of salmon; "2 breasts of chicken" are chicken breasts."""
    first = measures[0]
    if first.unit == "piece":
        if len(name) < 2:
            return name, measures
        noun = _noun(name[-1]) or _fraction(name[-1])
        if noun is None or name[-2] in _NO_NOUN_BEFORE:
            return name, measures
        before = _noun(name[-2]) if len(name) > 2 else None
        if before is not None and before.unit in _CUTS:
            unit, name = before, [*name[:-2], before.unit]
            return name, [_counting(first, unit.unit), *measures[1:]]
        if _only_states(name[:-1]):
            return name, measures
        keep = noun.keep or (
            noun.only_after and name[-2] not in noun.only_after
            and singular(name[-2]) not in noun.only_after
        ) or (noun.unless_after and any(w in noun.unless_after for w in name))  # fmt: skip
        name = [*name[:-1], SINGULAR[name[-1]]] if keep else name[:-1]
        return name, [_counting(first, noun.unit), *measures[1:]]
    if not name:
        return [first.unit.replace("_", " ")], measures
    noun = LEXICON[first.unit].noun if first.unit in LEXICON else None
    if noun is not None and noun.keep and noun.unit in NAMING_CUTS and first.unit not in name:
        return [*name, first.unit], measures
    return name, measures


def _counting(measure: Measure, unit: str) -> Measure:
    m = measure
    return Measure(
        m.amount, unit, m.kind, m.low, m.high, m.size, m.each, m.about, m.of_text
    )  # fmt: skip


def _fraction(word: str) -> UnitWord | None:
    """ "1 apple half" counts halves."""
    return UNITS.get(word) if LEXICON.get(word, NO_WORD).number_class == "fraction" else None


def _noun(word: str) -> UnitWord | None:
    entry = LEXICON.get(word)
    return entry.noun if entry is not None else None


def _only_states(words: list[str]) -> bool:
    return all(
        (e := LEXICON.get(w)) is not None
        and bool(e.effects or e.prep or e.modifier == "quality" or e.sizes)
        for w in words
    )
