"""Lines that hold several foods: the text of a line for each of them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.lines.alternatives import narrow
from pipeline.lines.draft import Draft
from pipeline.lines.further import SEASONINGS, is_noun, stands_alone
from pipeline.lines.model import Measure, ParsedLine
from pipeline.lines.tokens import WORD
from pipeline.lines.vocabulary import FUNCTION_WORDS, LEXICON, NO_WORD, group

#: Words in front of a list of foods that share the amount.
MIXTURE = group("mixture")

#: What the removal of a food leaves at the end of the first one's words.
_ENDS = re.compile(r"(?:[\s,;:+&/(-]|\b(?:and|plus|with|then)$)+$", re.IGNORECASE)
_EMPTY = re.compile(r"\s*[(\[][\s,;+&]*[)\]]")
_BETWEEN = re.compile(r"\s*(?:[,;&+]|\band\b)\s*")


def foods_apart(d: Draft, each_of: tuple[str, ...]) -> tuple[str, ...]:
    """The line of each food, where the line holds several; () when it turns out to hold one."""
    if d.others:
        return _others(d)
    if each_of:
        return _each_part(d, each_of)
    if not MIXTURE.isdisjoint(d.name[:1]):
        return _mixed(d)
    return _seasonings(d) if not d.measures and not SEASONINGS.isdisjoint(d.name[:1]) else ()


def foods_of(d: Draft, i: int, j: int) -> tuple[str, ...]:
    """The foods of tokens ``i`` to ``j``; () when not each of them has an amount."""
    parts = d.parse(d.written(i, j)).parts
    return parts if all(d.parse(part).measures for part in parts) else ()


def shared_out(measure: Measure, foods: Sequence[str]) -> tuple[str, ...]:
    """The line of each food of an amount that several share: equal shares, give or take a half."""
    low, high = (f"{share * measure.amount / len(foods):.4g}" for share in (0.5, 1.5))
    unit = "" if measure.unit == "piece" else f" {measure.unit.replace('_', ' ')}"
    return tuple(f"{low}-{high}{unit} {food}" for food in foods)


def _mixed(d: Draft) -> tuple[str, ...]:
    """ "3 tbsp mixed: chia and flax", "3 tbsp mixed seeds (sunflower, pumpkin)"."""
    t, word = d.t, d.t.word
    begin = word.index(d.name[0]) + len(d.name)
    if len(d.measures) != 1 or d.measures[0].each is not None or d.plus:
        return ()
    if begin >= t.count or word[begin] not in (":", "("):
        return ()
    stop = word.index(")") if word[begin] == "(" and ")" in word else t.count
    foods: list[list[str]] = [[]]
    for k in range(begin + 1, stop):
        if word[k] in ("and", "&", "+", "/", ",", ";"):
            foods.append([])
        elif t.kind[k] != WORD or word[k] in FUNCTION_WORDS or word[k] == "or":
            return ()
        else:
            foods[-1].append(word[k])
    foods = [food for food in foods if food]
    if len(foods) < 2 or not all(any(map(_may_name, food)) for food in foods):
        return ()
    if len(d.name) > 1:
        begun = len(d.alternatives)
        d.alternatives += foods
        narrow(d, begun)
        del d.alternatives[begun:]
    behind = d.written(stop + 1, t.count) if word[stop] == ")" else ""
    tail = f" {behind}" if behind and behind[0] != "," else behind
    return shared_out(d.measures[0], [" ".join(food) + tail for food in foods])


def _may_name(word: str) -> bool:
    """Whether a word of a list may name one of its foods: "chia", "sunflower" and not "red"."""
    return is_noun(word) or LEXICON.get(word, NO_WORD).modifier in ("kind", "flavour")


def _others(d: Draft) -> tuple[str, ...]:
    """The first food, then those that ``further`` has found after it."""
    further: list[str] = []
    kept, begin = [], 0
    for cut, first, stop in d.others:
        text = d.written(first, stop)
        read = d.parse(text)
        if read.kind != "food":
            continue
        further += read.parts or (_completed(d, text, read),)
        kept.append(d.written(begin, cut))
        begin = stop
    if not further:
        return ()
    kept.append(d.written(begin, d.t.count))
    head = _tidied(" ".join(kept))
    own = d.parse(head).parts or (head,) if d.measures else _listed(head)
    foods = (*own, *further)
    if "optional" in d.flags:
        return tuple(
            f if "optional" in d.parse(f).flags else f"{f} (optional)" for f in foods
        )  # fmt: skip
    return foods


def _seasonings(d: Draft) -> tuple[str, ...]:
    """ "Salt, pepper, garlic powder": a list without amounts that goes beyond salt and pepper."""
    if "," not in d.t.word or not stands_alone(d, d.t.count):
        return ()
    foods = _listed(d.text.strip())
    beyond = any(SEASONINGS.isdisjoint(food.lower().split()) for food in foods)
    return foods if beyond and all(d.parse(food).name for food in foods) else ()


def _each_part(d: Draft, each_of: tuple[str, ...]) -> tuple[str, ...]:
    """ "1 tsp each ground cumin and coriander": "1 tsp ground cumin", "1 tsp ground coriander"."""
    amount = d.written(0, d.t.word.index("each")).strip(" ,:;-") if d.measures else ""
    if len(each_of) < 2 or not amount:
        return ()
    state = each_of[0].partition(" ")[0]
    if LEXICON.get(state, NO_WORD).state is None:
        return tuple(f"{amount} {food}" for food in each_of)
    return tuple(
        f"{amount} {food}" if _has_state(food) else f"{amount} {state} {food}" for food in each_of
    )


def _completed(d: Draft, text: str, read: ParsedLine) -> str:
    """A part that names only what of the first food is meant: "1 white" behind "2 eggs"."""
    alone = read.name in ("white", "zest", "juice") or (not read.name and read.part)
    if not alone or not d.name:
        return text
    owner = "egg" if d.name[-1] in ("egg", "eggs") else " ".join(d.name)
    owner = owner.removesuffix(" juice").removesuffix(" zest")
    if not read.name:  # "juice of 2"
        return f"{text} {owner}"
    return f"{text[: text.lower().rindex(read.name)]}{owner} {read.name}"


def _tidied(text: str) -> str:
    while True:
        plain = _EMPTY.sub("", text)
        if plain == text:
            return _ENDS.sub("", plain).strip(" ,;")
        text = plain


def _listed(text: str) -> tuple[str, ...]:
    return tuple(food for food in _BETWEEN.split(text) if food)


def _has_state(food: str) -> bool:
    return any(LEXICON.get(word, NO_WORD).state is not None for word in food.split())
