"""One line, left to right: amount, food phrase, then what is said after it.

The tokens are walked once. In the food phrase name words are gathered; after a comma, a spaced
dash, or a word that ends a name ("for", "to") notes. States, flags, fat figures, further amounts
and alternatives are taken wherever they stand.

The steps, each a module of functions over the ``Draft`` of the line and a token: ``clean``
(typography), ``tokens`` (words, and what the tables say of them), ``amounts`` (numbers),
``measures`` (with units), ``percents``, ``head`` (before the food), ``food_name`` (the phrase),
``alternatives``, ``further`` (other foods with an amount), ``tails`` (parentheses and comma
parts), this module (the whole), ``names`` (the phrase put right), ``several`` (lines of several
foods), ``sorting`` (lines that name no food).
"""

from __future__ import annotations

from functools import lru_cache

from pipeline.foods.words import singular
from pipeline.lines.clean import clean
from pipeline.lines.draft import Draft
from pipeline.lines.food_name import food_phrase
from pipeline.lines.head import head, lead
from pipeline.lines.model import LineKind, Measure, ParsedLine
from pipeline.lines.names import finish_name
from pipeline.lines.percents import settle
from pipeline.lines.several import foods_apart
from pipeline.lines.sorting import names_no_food, sort_line
from pipeline.lines.tails import past_marks, tail
from pipeline.lines.tokens import END, WORD

_NONE: frozenset[str] = frozenset()
#: Notes that say the weight on the line is of what is left to eat.
_NET_WEIGHT = frozenset(
    f"{word} weight"
    for word in ("drained", "net", "peeled", "pitted", "shelled", "trimmed", "edible")
)


#: Lines kept, about 0.8 KB each: splitting, reading and the stages after ask for one text again.
_KEPT = 1 << 15


@lru_cache(maxsize=_KEPT)
def parse(text: str) -> ParsedLine:
    """Read one ingredient line; total: any text gives a ``ParsedLine``, none raises.

    Equal texts share one object.

    Args:
        text: the line as written. Only the first 1,000 characters are read.
    """
    line = clean(text)
    words = line.lower.strip()
    if not words:
        return ParsedLine(text, "blank", problems=line.problems)
    kind = sort_line(line.text.strip(), words)
    if kind is not None:
        return ParsedLine(text, kind, problems=line.problems)
    d = Draft.of(text, line, parse)
    _walk(d)
    return _result(d)


def _walk(d: Draft) -> None:
    kind, count = d.t.kind, d.t.count
    i = lead(d)
    d.cut(0, i)
    i = food_phrase(d, head(d, i))
    while kind[i] != END:
        if not d.name and not d.measures:  # "optional, 1 egg": the food is still to come
            i = past_marks(d, i, count)
            if kind[i] == WORD:
                i = max(i + 1, food_phrase(d, head(d, i)))
                continue
        i = max(i + 1, tail(d, i, count))


def _result(d: Draft) -> ParsedLine:
    """Put the parts together."""
    fat, lean, cocoa = settle(d.percents, d.t.text) if d.percents else (None, None, None)
    if d.name and d.name[-1] in ("juice", "zest") and len(d.name) > 1:
        _owned_part(d)
    finished = finish_name(d)
    name, measures, problems = finished.name, finished.measures, d.problems
    if "egg " in name and not d.part:
        last = singular(name.rpartition(" ")[2])
        d.part = last if last in ("white", "yolk") else ""
    elif d.part in ("white", "yolk") and name in ("egg", "eggs"):
        name = f"egg {d.part}"
    kind = _kind(d, name)
    if not name and kind == "food":
        problems.append("name-missing")
    if "amount-negative" in problems or "amount-not-a-number" in problems:
        measures, d.plus = [], []
    for measure in measures:
        if measure.unit == "tin":
            d.states.add("canned")
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
        d.made_of or foods_apart(d, finished.each_of),
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
