"""What stands between a number and its unit: "2 x 400 g tins", "2 (15 oz) cans", "2 fresh sprigs"."""

from __future__ import annotations

from pipeline.lines.amounts import read_amount
from pipeline.lines.model import Measure
from pipeline.lines.plain_measures import no_food
from pipeline.lines.readings import DUAL, HELD, PIECE, TIMES, Reading, hedges
from pipeline.lines.tokens import MARK, NUMBER, NUMERIC, WORD, Tokens
from pipeline.lines.units import LENGTHS_OF, Count, each_of, past_length, product, with_unit
from pipeline.lines.vocabulary import LEXICON, UNITS, UnitWord


def counted(t: Tokens, c: Count) -> Reading:
    """An amount, what each holds, sizes, and the unit."""
    problem = c.amount.problem
    doubled = _times(t, c)
    more_size, c.j = t.size(c.j, near=True)
    c.size = c.size or more_size
    if c.each is None and not doubled:
        _each_in_front(t, c)
        if c.each is not None and c.each.kind == "length":
            found = t.unit(c.j)
            if found is not None and found[0].unit in LENGTHS_OF:
                return _of_length(t, c, c.each)
            c.each = None  # "8 (6-inch) tortillas": how wide they are
    bracket = t.word[c.j] == "("
    more_size, c.j = t.size(c.j)
    if more_size and c.size not in ("", more_size) and not bracket:
        c.size = f"{c.size} {more_size}"
    c.size = c.size or more_size
    hedge = t.phrase(c.j, "hedge")
    if hedge is not None and t.unit_after(hedge[1]):  # "a good handful"
        c.about, c.j = True, hedge[1]
    found = None if no_food(t, c.j, c.j + 1) else t.unit(c.j)
    lead: list[str] = []
    if found is None:
        found, lead = _unit_past_adjectives(t, c.j)
    if found is not None:
        reading = with_unit(t, c, *found)
        reading.flags += ["piece_written"] * (found[0] is PIECE)
    else:
        name = "piece"
        if _own_word(t, c.j):
            name, c.j = t.word[c.j], c.j + 2
            problem = problem or "unit-unknown"
        reading = Reading([c.measure(t, c.amount, PIECE, name, c.j)], c.j)
    reading.written, reading.lead = c.amount.word, lead
    if c.amount.word == "vague" and c.amount.best != 2:
        reading.flags.append("vague")
    if problem:
        reading.problems.append(problem)
    return reading


def _times(t: Tokens, c: Count) -> bool:
    """ "2 x 400 g tins", "2 x 3 cups"; whether the count has been multiplied."""
    if t.word[c.j] not in TIMES:
        return False
    second = read_amount(t, c.j + 1)
    if second is None or second.word == "article":
        c.j += 1
        return False
    each, c.j = each_of(t, second, c.j + 1)
    if each is not None and each.kind in HELD:
        c.each = each
        return False
    c.amount, c.j = product(c.amount, second), second.next
    return each is not None


def _each_in_front(t: Tokens, c: Count) -> None:
    """ "2 400g tins", "a 15-oz can", "2 (15 oz) cans", "1-400 g tin", "1, 14 oz can"."""
    closing = t.word[c.j] == "("
    k = _begin_of_each(t, c)
    second = read_amount(t, k) if t.kind[k] in NUMERIC else None
    if second is None:
        return
    each, after = each_of(t, second, k)
    article = c.amount.word == "article" and not closing
    held = each is not None and each.kind in (*HELD, "length")
    if closing and held:
        after = _past_closing(t, after)
        held = after > 0
    if article and held:
        held = t.unit_kind(t.size(after)[1]) in ("package", "count")
    if held:
        c.each, c.j = each, after
    elif article:  # "a 400 g": the article belongs to what follows
        c.amount, c.j = second, second.next


def _begin_of_each(t: Tokens, c: Count) -> int:
    """The token at which the content of each would begin after a count."""
    j = c.j
    mark = t.word[j]
    if mark == "(":
        return hedges(t, j + 1)[1]
    if t.kind[j + 1] != NUMBER:
        return j
    set_apart = mark == "," or t.is_dash(j)
    if (mark == "-" and not set_apart) or (
        set_apart and c.amount.low.is_integer() and _fills(t, j + 1)
    ):
        return j + 1
    return j


def _past_closing(t: Tokens, after: int) -> int:
    """The token after "(400 g / 14 oz each)" from ``after`` on, 0 when it is none."""
    word = t.word
    while word[after] in DUAL or word[after] in ("or", ",", ";"):
        again = read_amount(t, after + 1)
        if again is None:
            return 0
        _, after = each_of(t, again, after + 1)
    if word[after] in ("each", "apiece"):
        after += 1
    past = after + 1
    if word[after] != ")" or not word[past] or (t.kind[past] == MARK and word[past] != "-"):
        return 0
    return past


def _fills(t: Tokens, k: int) -> bool:
    """ "14 oz can": whether an amount and the package it fills stand at token ``k``."""
    second = read_amount(t, k)
    if second is None:
        return False
    each, after = each_of(t, second, k)
    if each is None or each.kind not in HELD:
        return False
    return t.unit_kind(t.size(after)[1]) == "package"


def _of_length(t: Tokens, c: Count, length: Measure) -> Reading:
    """ "2 5 cm pieces of ginger": so many times the length."""
    c.each, unit = None, UNITS[length.unit]
    times = c.measure(t, product(c.amount, length), unit, length.unit, c.j)
    return Reading([times], past_length(t, c.j))


def _unit_past_adjectives(t: Tokens, j: int) -> tuple[tuple[UnitWord, int, str] | None, list[str]]:
    """ "1 individual pot", "2 fresh sprigs thyme": the unit, and the words before it."""
    k = j
    while (
        k < j + 3
        and (entry := LEXICON.get(t.word[k])) is not None
        and (entry.modifier == "quality" or (entry.effects and t.phrase(k, "state")))
    ):
        k += 1
    found = t.unit(k) if k > j else None
    if found is None or found[0].kind not in ("count", "package", "trade", "volume"):
        return None, []
    after = t.past_of(found[1])
    if t.kind[after] != WORD and t.word[after] != "(":
        return None, []
    return found, [w for w in t.word[j:k] if w != "whole"]


def _own_word(t: Tokens, j: int) -> bool:
    """ "2 wheels of brie": a word before "of" measures even when no table knows it."""
    return (t.kind[j] == WORD and t.word[j + 1] == "of" and t.kind[j + 2] == WORD
            and t.word[j] not in LEXICON)  # fmt: skip
