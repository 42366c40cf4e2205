"""The food phrase after reading: trailing preparation cut, count nouns given to the measure,
alternatives completed."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from pipeline.foods.words import singular
from pipeline.lines.draft import Draft
from pipeline.lines.model import Measure
from pipeline.lines.vocabulary import (
    LEXICON,
    NAMING_CUTS,
    NO_WORD,
    SHARED_HEADS,
    SINGULAR,
    UNITS,
    UnitWord,
    Word,
    group,
)

_LEADING = group("lead")
_TRAILING = group("trail")
_NO_NOUN_BEFORE = group("no_noun_before")
#: Last words of meat and fish cuts that say more than "fillet" or "half" after them.
_CUTS = group("cut_named")


_STAND_ALONE = SHARED_HEADS["*"]


class Finished(NamedTuple):
    """``name``, ``alternatives``, ``each_of`` as in ``ParsedLine``; ``measures`` with nouns."""

    name: str
    alternatives: tuple[str, ...]
    measures: list[Measure]
    each_of: tuple[str, ...] = ()


def finish_name(d: Draft) -> Finished:
    """Turn gathered words into the name phrase; preparation words move to the notes."""
    measures = d.measures
    if "each" in d.flags:
        return _each(d.name, measures, d.notes)
    name = _tidy(d.name, d.notes)
    others = [other for words in d.alternatives if (other := _tidy(words, []))]
    if others and not name:
        name, *others = others
    if others:
        name, others = _alternatives(name, others)
    for part in d.kind_parts:  # "yogurt, greek, plain": each narrows what stands before it
        name = [*part, *name]
    if not name and len(measures) == 1 and measures[0].kind == "trade":
        name, measures = [measures[0].unit], []  # "sprinkles, to decorate": the thing itself
    if measures and measures[0].kind == "count":
        last = name[-1] if name else ""
        name, unit = _count_noun(name, measures[0].unit)
        if unit != measures[0].unit:
            measures = [replace(measures[0], unit=unit), *measures[1:]]
        if unit != "piece":  # "2 cod or haddock fillets"
            others = [o[:-1] if len(o) > 1 and o[-1] == last not in name else o for o in others]
    if measures and measures[0].kind in ("mass", "volume") and measures[0].of_text[0]:
        name = _without_count(name, d.notes)
    named = tuple(dict.fromkeys(" ".join(o) for o in others)) if others else ()
    return Finished(" ".join(name), named, measures)


def _without_count(name: list[str], notes: list[str]) -> list[str]:
    """The name without a count of what nobody measures by, before the weight: "dal 1 katori 150 g"."""
    at = next((at for at in range(max(1, len(name) - 2), len(name)) if name[at].isdecimal()), 0)
    if not at:
        return name
    notes.append(" ".join(name[at:]))
    return name[:at]


def _each(name: list[str], measures: list[Measure], notes: list[str]) -> Finished:
    """ "each red and green pepper": the foods apart, and joined by "and"."""
    foods: list[list[str]] = [[]]
    for word in name:
        if word in ("and", ","):
            foods.append([])
        else:
            foods[-1].append(word)
    foods = [tidied for food in foods if (tidied := _tidy(food, notes))]
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
    while cut > start and (words[cut - 1] == "and" or _is_work(words[cut - 1])):
        cut -= 1
    if start < cut < end:
        notes.append(" ".join(words[cut + (words[cut] == "and" and cut + 1 < end) : end]))
        end = cut
    kept: list[str] = []
    for at in range(start, end):
        word = words[at]
        entry = LEXICON.get(word, NO_WORD)
        after = words[at + 1] if at + 1 < end else ""
        if entry.prep and after not in entry.stay_before:
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
_TIDIED = _LEADING | _TRAILING | {text for text, word in LEXICON.items() if word.prep or word.state}


def _is_work(word: str) -> bool:
    entry = LEXICON.get(word, NO_WORD)
    return bool(entry.prep) or _says_state(entry)


def _says_state(entry: Word) -> bool:
    return entry.state is not None and not entry.state.noun


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
    one, other = LEXICON.get(own, NO_WORD).modifier, LEXICON.get(last[0], NO_WORD).modifier
    if (one == other and one not in ("", "kind")) or (_adjective(own) and _adjective(last[0])):
        return [*words, *last[1:]]  # "crunchy or smooth peanut butter"
    alone = SHARED_HEADS.get(head)
    if alone is not None:
        return words if own in alone or own in SHARED_HEADS else [*words, head]
    return [*words, head] if _adjective(own) else words


def _adjective(word: str) -> bool:
    if word not in LEXICON:  # "semi-ripe", "over-ripe": as its last part
        return LEXICON.get(word.rpartition("-")[2], NO_WORD).modifier == "quality"
    return LEXICON[word].modifier == "quality" or _says_state(LEXICON[word])


def _count_noun(name: list[str], unit: str) -> tuple[list[str], str]:
    """ "4 salmon fillets" counts fillets of salmon; "2 breasts of chicken" are chicken breasts."""
    if unit != "piece":
        if not name:
            return [unit.replace("_", " ")], unit
        return ([*name, unit] if _is_cut(unit) and unit not in name else name), unit
    if len(name) < 2:
        return name, unit
    noun = _noun(name[-1]) or _fraction(name[-1])
    if noun is None or name[-2] in _NO_NOUN_BEFORE:
        return name, unit
    before = _noun(name[-2]) if len(name) > 2 else None
    if before is not None and before.unit in _CUTS:
        return [*name[:-2], before.unit], before.unit
    if all(map(_describes, name[:-1])):
        return name, unit
    keep = noun.keep or (
        noun.only_after and noun.only_after.isdisjoint((name[-2], singular(name[-2])))
    ) or not noun.unless_after.isdisjoint(name)  # fmt: skip
    return ([*name[:-1], SINGULAR[name[-1]]] if keep else name[:-1]), noun.unit


def _fraction(word: str) -> UnitWord | None:
    """ "1 apple half" counts halves."""
    return UNITS.get(word) if LEXICON.get(word, NO_WORD).number_class == "fraction" else None


def _noun(word: str) -> UnitWord | None:
    return LEXICON.get(word, NO_WORD).noun


def _describes(word: str) -> bool:
    entry = LEXICON.get(word, NO_WORD)
    return bool(entry.effects or entry.prep or entry.modifier == "quality" or entry.sizes)
