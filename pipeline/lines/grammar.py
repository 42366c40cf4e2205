"""One line, left to right: amount, food phrase, then what is said after it.

The tokens are walked once. In the food phrase name words are gathered; after a comma, a spaced
dash, or a word that ends a name ("for", "to") notes. States, flags, fat figures, further amounts
and alternatives are taken wherever they stand.

The steps, each a module of functions over the ``Draft`` of the line and a token: ``clean``
(typography), ``tokens`` (words, and what the tables say of them), ``amounts`` (numbers),
``measures`` (with units: ``plain_measures`` the common case, else ``counts`` before the unit,
``units`` with it, ``more_measures`` behind it), ``percents``, ``head`` (before the food),
``food_name`` (the phrase), ``alternatives``, ``further`` (other foods with an amount), ``tails``
(comma parts), ``brackets``, ``measured_asides`` and ``notes`` within them, this module (the whole),
``names`` (the phrase put right), ``several`` (lines of several foods), ``sorting`` (lines that name
no food).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cache

from pipeline.foods.words import singular
from pipeline.lines.clean import Clean, clean, named_pictures, times_first
from pipeline.lines.draft import Draft
from pipeline.lines.food_name import food_phrase
from pipeline.lines.head import head, lead
from pipeline.lines.measures import bare_unit
from pipeline.lines.model import LineKind, Measure, ParsedLine
from pipeline.lines.names import finish_name
from pipeline.lines.parts import is_work
from pipeline.lines.percents import settle
from pipeline.lines.several import foods_apart
from pipeline.lines.sorting import names_no_food, sort_line
from pipeline.lines.tails import tail
from pipeline.lines.vocabulary import LEXICON

_NONE: frozenset[str] = frozenset()
#: A number from which on a count that is said again in grams is no count.
_MANY = 10
#: Notes that say the weight on the line is of what is left to eat.
_NET_WEIGHT = frozenset(
    f"{word} weight"
    for word in ("drained", "net", "peeled", "pitted", "shelled", "trimmed", "edible")
)


#: Lines kept, about 0.8 KB each: splitting, reading and the stages after ask for one text again.
_KEPT = 1 << 15
_READ: dict[str, ParsedLine] = {}
#: Lines that are read together, each step for all of them: the code of one step and the drafts of so
#: many lines fit into a processor's cache, which takes a quarter off the time of line by line.
_TOGETHER = 64


def parse(text: str) -> ParsedLine:
    """Read one ingredient line; total: any text gives a ``ParsedLine``, none raises.

    Equal texts share one object.

    Args:
        text: the line as written. Only the first 1,000 characters are read.
    """
    return _READ.get(text) or read_together([text])[0]


def parse_many(texts: Iterable[str]) -> list[ParsedLine]:
    """Read lines in order; equal texts are read once and share one ``ParsedLine``."""
    wanted = list(texts)
    read = {text: _READ.get(text) for text in wanted}
    new = [text for text, line in read.items() if line is None]
    for start in range(0, len(new), _TOGETHER):
        together = new[start : start + _TOGETHER]
        read.update(zip(together, read_together(together), strict=True))
    return [read[text] or parse(text) for text in wanted]


def forget() -> None:
    """Drop the lines that are kept; a long run calls it to stay small."""
    _READ.clear()


def read_together(texts: Sequence[str]) -> list[ParsedLine]:
    """Read some lines step by step, also those read before, and keep them."""
    cleaned = [clean(text) for text in texts]
    read = _read_clean(texts, [times_first(line) or line for line in cleaned])
    for at, line in enumerate(read):
        unnamed = line.kind == "food" and all(map(is_work, line.name.split()))  # "🧅 2, sliced"
        if unnamed and (pictures := named_pictures(line.text)):
            (read[at],) = _read_clean([line.text], [clean(line.text, pictures)])
    if len(_READ) > _KEPT:
        for text in list(_READ)[: _KEPT // 2]:
            _READ.pop(text, None)
    _READ.update(zip(texts, read, strict=True))
    return read


def _read_clean(texts: Sequence[str], cleaned: Sequence[Clean]) -> list[ParsedLine]:
    kinds = [_sorted(line) for line in cleaned]
    drafts = [
        Draft.of(text, line, parse, tail) if kind is None else None
        for text, line, kind in zip(texts, cleaned, kinds, strict=True)
    ]
    _walk([d for d in drafts if d is not None])
    for at, d in enumerate(drafts):  # "1 egg plus 30 g milk x2": the count is the last food's own
        if d is not None and d.clean.moved and d.others:
            drafts[at] = as_written = Draft.of(d.text, clean(d.text), parse, tail)
            _walk([as_written])
    return [
        _result(d) if d is not None else ParsedLine(text, kind or "blank", problems=line.problems)
        for text, line, kind, d in zip(texts, cleaned, kinds, drafts, strict=True)
    ]


def _sorted(line: Clean) -> LineKind | None:
    """What a line is that needs no reading; None for others."""
    words = line.lower.strip()
    return sort_line(line.text.strip(), words) if words else "blank"


def _walk(drafts: Sequence[Draft]) -> None:
    begin = [lead(d) for d in drafts]
    for d, i in zip(drafts, begin, strict=True):
        d.cut(0, i)
    behind = [head(d, i) for d, i in zip(drafts, begin, strict=True)]
    behind = [food_phrase(d, i) for d, i in zip(drafts, behind, strict=True)]
    for d, i in zip(drafts, behind, strict=True):
        d.tails(i, d.t.count)


def _result(d: Draft) -> ParsedLine:
    """Put the parts together."""
    fat, lean, cocoa = settle(d.percents, d.t.text) if d.percents else (None, None, None)
    if d.name and d.name[-1] in ("juice", "zest") and len(d.name) > 1:
        _owned_part(d)
    elif len(d.name) > 1 and (taken := [word for word in d.name if word in ("juiced", "zested")]):
        d.set_part(taken)  # "2 juiced limes"
        d.name[:] = [word for word in d.name if word not in taken]
    if not d.measures and len(d.name) > 1:
        _unit_behind(d)
    finished = finish_name(d)
    name, measures, problems = finished.name, finished.measures, d.problems
    if "egg " in name and not d.part:
        last = singular(name.rpartition(" ")[2])
        d.part = last if last in ("white", "yolk") else ""
    elif d.part in ("white", "yolk") and name in ("egg", "eggs"):
        name = f"egg {d.part}"
    elif name in ("whites", "yolks", "yolk") and measures:
        d.part = singular(name)  # "4 whites"
        name = f"egg {d.part}"
    if not d.part and name.endswith(("egg", "eggs")) and (part := _only_part(d.clean.lower)):
        d.part, name = part, f"{name.removesuffix('s')} {part}"
    kind = _kind(d, name)
    if not name and kind == "food":
        problems.append("name-missing")
    if "amount-negative" in problems or "amount-not-a-number" in problems:
        measures, d.plus = [], []
    name = _out_of_tin(d, name)
    for measure in measures:
        if measure.unit == "tin":
            d.states.add("canned")
    measures = _said_once(measures)
    if len(measures) == 1 and _no_count(measures[0]):
        problems.append("unit-missing")
    if d.notes and measures and measures[0].kind == "mass" and not _NET_WEIGHT.isdisjoint(d.notes):
        d.flags.add("net_weight")  # "240 g chickpeas, drained weight"
    return ParsedLine(
        d.text, kind, tuple(measures), tuple(d.plus), name, finished.alternatives,
        frozenset(d.states) if d.states else _NONE, ", ".join(d.notes),
        fat, lean, cocoa, d.part, frozenset(d.flags) if d.flags else _NONE,
        tuple(dict.fromkeys(problems)) if problems else (), finished.each_of,
        d.rest() if kind != "blank" else "",
        d.made_of or foods_apart(d, finished.each_of), d.used,
    )  # fmt: skip


_LEFT_OUT = re.compile(r"\b(?:no|without|minus|less|not the) (?:the )?(yolk|white)s?\b")
_ALONE = re.compile(r"\b(?:only|just) (?:the )?(yolk|white)s?\b|\b(yolk|white)s? only\b")


def _only_part(words: str) -> str:
    """The part of an egg that alone goes in: "2 boiled eggs (no yolk)", "3 eggs, only the whites"."""
    if "yolk" not in words and "white" not in words:
        return ""
    if (left := _LEFT_OUT.search(words)) is not None:
        return "white" if left[1] == "yolk" else "yolk"
    alone = _ALONE.search(words)
    return (alone[1] or alone[2]) if alone else ""


def _unit_behind(d: Draft) -> None:
    """ "Spinach handful", "salt pinch": one of it, where the line tells no amount."""
    last = len(d.name) - 1
    while last > 0 and is_work(d.name[last]):
        last -= 1
    at = max((i for i in range(d.t.count) if d.t.word[i] == d.name[last]), default=-1)
    known = d.name[last] in LEXICON  # "gratin" is no grating
    reading = bare_unit(d.t, at) if at > 0 < last and known else None
    if reading is None or reading.next != at + 1 or singular(d.name[last]) != d.name[last]:
        return
    if reading.measures[0].kind == "trade" and not _names_foods(d.name[last]):
        del d.name[last]
        d.take(reading)
        d.cut(at, at + 1)


def _names_foods(word: str) -> bool:
    """Whether a unit is what foods are called by, and counts only behind a number or before "of":
    "rice bowl", "cooking spray"."""
    return all(unit.needs_number or unit.needs_of for _, unit, _ in LEXICON[word].units)


def _said_once(measures: list[Measure]) -> list[Measure]:
    """Measures without a bare number that a weight or volume says again: "600 - white cabbage, 600 g"."""
    if len(measures) != 2 or measures[0].unit != "piece" or measures[0].each is not None:
        return measures
    first, second = measures
    again = second.unit in ("g", "ml") and first.amount == second.amount >= _MANY
    return [second] if again else measures


def _out_of_tin(d: Draft, name: str) -> str:
    """The name without a tin that is not counted: "beans, tin (400 g)", "beans tin 400 g"."""
    tins = _tins()
    if not tins.isdisjoint(d.notes):
        d.states.add("canned")
    first, _, rest = name.partition(" ")
    if not rest or not d.measures or any(m.kind not in ("mass", "volume") for m in d.measures):
        return name
    before, _, last = name.rpartition(" ")
    left = rest if first in tins else before if last in tins else ""
    if not left or names_no_food(name):
        return name
    d.states.add("canned")
    return left


@cache
def _tins() -> frozenset[str]:
    """Words that are a tin by themselves."""
    return frozenset(
        word for word, entry in LEXICON.items()
        if entry.units and any(unit.unit == "tin" and not rest for rest, unit, _ in entry.units)
    )  # fmt: skip


def _kind(d: Draft, name: str) -> LineKind:
    written = " ".join(d.name)
    if names_no_food(written) or (name != written and names_no_food(name)):
        return "not_food"
    return "food" if name or any(c.isalnum() for c in d.text) else "blank"


def _owned_part(d: Draft) -> None:
    """ "1 lemon's juice": the juice of one lemon."""
    owner = d.name[-2]
    owned = owner.endswith("'s") or f"{owner}' " in d.t.text  # "2 limes' juice"
    if owned and d.measures and d.measures[0].unit == "piece":
        d.set_part([d.name.pop()])
        d.name[-1] = singular(owner.rstrip("'"))


def _no_count(measure: Measure) -> bool:
    """ "17.3 puff pastry": no whole number of things and no common fraction of one."""
    amount = measure.amount
    if measure.unit != "piece" or measure.each is not None or measure.low != measure.high:
        return False
    if not 2 <= amount < 1000:
        return False
    return all(abs(amount * n - round(amount * n)) > 0.02 for n in (1, 2, 3, 4, 8))
