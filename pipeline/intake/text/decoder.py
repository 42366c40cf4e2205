"""The explanation of a whole text as recipes that says most about its lines.

A text is a run of clauses: its lines, cut where a mark may part them. One or several neighbouring
clauses of a line make a span, and a span is read as a title, a yield, an ingredient, stated numbers,
a heading, or as talk. How well it serves as each is told by the readers of these things alone
(does the line reader find an amount and a food, the reader of stated lines numbers and nutrients),
and a dynamic programme finds the cut and the reading that are best together: recipes that have a
title, a list and numbers, in the order that the text repeats. What the titles of the first pass
have in common (indent, capitals, a blank line above, a number in front) counts in the second.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from pipeline.foods.words import singular
from pipeline.intake.counted import count_of, is_one_thing, thing_of
from pipeline.intake.facts_line import counts_title, find_facts
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.clauses import AMOUNT, Clause, Span, clauses_of
from pipeline.intake.text.features import (
    Features,
    Scores,
    counts_servings,
    counts_yield,
    looks,
    score,
    title_parts,
)  # fmt: skip
from pipeline.intake.text.line_kinds import heads_part
from pipeline.lines import parse

#: Lines of a text that is decoded; a longer one is a book, which has the markup of one.
MAX_LINES = 6_000
#: Role of a line by the label of its span, where they differ.
_ROLES = {"bare": "item", "count": "yield", "word": "talk", "titled": "title"}
#: What a span counts at most where no recipe has begun.
_OUTSIDE = 0.5


@dataclass(slots=True)
class Recipe:
    """Spans of one recipe with their labels, in the order of the text."""

    spans: list[tuple[str, Span]] = field(default_factory=list)


_TITLES = frozenset(("title", "titled"))
_ITEMS = ("item", "bare")
#: Lines of a list above a line of steps, at least.
_LEAST_ABOVE = 2
#: The end of a sentence that another follows, in capitals or not.
_SENTENCES = re.compile(r"[^\W\d_]{2}[.!?]\s+[^\W\d_]+\s+\S")
_SERVED = ("yield", "count")


class State(NamedTuple):
    """Where the reading stands in a recipe: what it has so far, and what came last."""

    items: int = -1  # -1: no recipe has begun
    numbers: int = 0  # 1: within them, 2: they are over; 3 and 4 where they stand above the list
    served: bool = False
    last: str = "talk"


@dataclass(slots=True)
class Style:
    """What the titles of a text have in common, and whether its numbers follow its lists."""

    titles: dict[tuple[str, bool], float] = field(default_factory=dict)
    behind: float = 0.0  # > 0: numbers stand behind the list


class Step(NamedTuple):
    """One step of an explanation: where it stood, and what it read which span as."""

    state: State
    label: str
    span: int


def _ending(state: State) -> Features:
    """How a recipe ends that ends so."""
    if state.items < 0:
        return {}
    if state.items == 0:
        return {"no list": 1.0, "numbers and no list": float(state.numbers > 0)}
    features = {"numbers": 1.0} if state.numbers else {"no numbers": 1.0}
    if state.served and not state.numbers:
        features["servings alone"] = 1.0
    return features | {"one line": float(state.items == 1)}


@cache
def closes(state: State) -> float:
    """What a recipe is worth that ends so."""
    return score("end", _ending(state))


@cache
def _steps(
    state: State, label: str, same_line: bool, apart: bool
) -> tuple[State, Features, float] | None:
    """The state behind a span of a label, the step's features and what they count.

    None where it cannot be. ``apart``: a blank line stands above it.
    """
    if label in _TITLES:
        return State(0, 0, label == "titled", "title"), {}, closes(state)
    if state.items < 0:
        features = {f"{_ROLES.get(label, label)} before any title": 1.0}
        return state, features, score("step", features)
    if label == "count" and state.last != "title":
        return None
    items, numbers, served = state.items, state.numbers, state.served
    signs = _signs_of_list(state, label) if label in ("item", "bare") else {}
    if label == "numbers":
        signs["numbers twice"] = numbers in (2, 4)
        numbers = (1 if items else 3) if numbers in (0, 2, 4) else numbers
    elif label == "yield":
        signs |= {"yield twice": served, "yield below the list": items > 0}
    elif label == "talk":
        signs["talk in a list line" if same_line else "talk behind a list line"] = (
            state.last == "item"
        )
        signs["talk above the list"] = items == 0
    if state.last == "title" and same_line:
        signs["facts in a title line"] = label in ("numbers", *_SERVED)
        signs["talk in a title line"] = label == "talk"
    elif state.last == "title":
        signs["heading below a title"] = label == "heading"
    if label not in ("numbers", "yield") and numbers in (1, 3):
        numbers += 1
    last = "method" if label == "talk" and state.last == "method" else label
    last = "item" if label == "bare" else last
    features = {name: 1.0 for name, holds in signs.items() if holds}
    features[
        f"{state.last} > {'bare' if label == 'bare' else last}"
        + " in a line" * same_line
        + " apart" * apart
    ] = 1.0
    new = State(min(2, items + (label == "item")), numbers, served or label in _SERVED, last)
    return new, features, score("step", features)


def _signs_of_list(state: State, label: str) -> dict[str, bool]:
    """An ingredient behind steps, behind talk, behind numbers, before the list."""
    broken = state.last not in ("item", "heading", "yield", "count", "word", "method")
    return {
        "item behind steps": state.last == "method",
        "item behind a break": broken and state.items > 0,
        "item behind numbers": state.numbers in (1, 2) and state.items >= 2,
        "bare first": state.items == 0 and label == "bare",
    }


def decoded(lines: Sequence[CardLine]) -> list[CardLine]:
    """The best explanation of a text as lines of plain cards; [] for a text of no recipe."""
    found, clauses = decode(lines)
    return as_card(found, clauses)


def decode(lines: Sequence[CardLine]) -> tuple[list[Recipe], list[Clause]]:
    """The recipes of the best explanation of a text, in its order, and the clauses they span."""
    clauses = clauses_of(lines)
    if not clauses or len(lines) > MAX_LINES:
        return [], clauses
    scores = Scores(clauses)
    return recipes_of(scores, explained(scores)[0]), clauses


def explained(scores: Scores) -> tuple[list[Step], Style]:
    """The best path through a text, and the style that its second pass has from the first."""
    path = best_path(scores, Style())
    found = recipes_of(scores, path)
    if len(found) < 2:
        return path, Style()
    style = style_of(scores, found)
    return best_path(scores, style), style


def style_of(scores: Scores, found: Sequence[Recipe]) -> Style:
    """What the titles of recipes have in common that other lines of the text have not."""
    titled = [recipe.spans[0][1] for recipe in found]
    whole = [s for s, of in zip(scores.spans, scores.of, strict=True) if _TITLES & of.keys()]
    of_all = [looks(scores.clauses[s.first], s.text) for s in whole]
    of_titles = [looks(scores.clauses[s.first], s.text) for s in titled]
    style = Style()
    for look in of_titles[0]:
        yes, every = sum(t[look] for t in of_titles), sum(o[look] for o in of_all)
        for value, a, b in ((True, yes, every), (False, len(of_titles) - yes, len(of_all) - every)):
            share, usual = (a + 1) / (len(of_titles) + 2), (b + 1) / (len(of_all) + 2)
            style.titles[look, value] = max(-1.0, min(1.0, math.log(share / usual)))
    for recipe in found:
        labels = [label for label, _ in recipe.spans]
        if "item" in labels and "numbers" in labels:
            style.behind += 0.5 if labels.index("item") < labels.index("numbers") else -0.5
    return style


def best_path(scores: Scores, style: Style) -> list[Step]:
    """The best path through the spans of a text."""
    begins: dict[int, list[int]] = {}
    for at, span in enumerate(scores.spans):
        begins.setdefault(span.first, []).append(at)
    ends = len(scores.clauses)
    best: list[dict[State, tuple[float, int, Step | None]]] = [{} for _ in range(ends + 1)]
    best[0][State()] = (0.0, -1, None)
    for first in range(ends):
        same_line, apart = bool(scores.clauses[first].mark), scores.clauses[first].blank
        here = list(best[first].items())
        for at in begins.get(first, ()):
            behind = best[scores.spans[at].last + 1]
            for label, own in scores.of[at].items():
                title = label in _TITLES
                if title:
                    own += score("title", {"style": _shared(scores, at, style)})
                for state, (before, *_) in here:
                    step = _steps(state, label, same_line, apart)
                    if step is None:
                        continue
                    new, _, cost = step
                    total = before + cost
                    total += own if title or state.items >= 0 else min(own, _OUTSIDE)
                    if label == "numbers":
                        total += score("step", _in_order(state, style))
                    held = behind.get(new)
                    if held is None or total > held[0]:
                        behind[new] = (total, first, Step(state, label, at))
    return _traced(best)


def _in_order(state: State, style: Style) -> Features:
    """Whether stated numbers stand where those of the other recipes do."""
    if state.items < 0 or state.numbers or not style.behind:
        return {}
    return {
        "order of the text": max(-1.5, min(1.5, style.behind if state.items else -style.behind))
    }


def _shared(scores: Scores, at: int, style: Style) -> float:
    if not style.titles:
        return 0.0
    span = scores.spans[at]
    of = looks(scores.clauses[span.first], span.text)
    return sum(style.titles[look, value] for look, value in of.items())


def _traced(best: Sequence[dict[State, tuple[float, int, Step | None]]]) -> list[Step]:
    at = len(best) - 1
    state = max(best[at], key=lambda s: best[at][s][0] + closes(s))
    path: list[Step] = []
    while at > 0:
        _, at, step = best[at][state]
        assert step is not None
        path.append(step)
        state = step.state
    return path[::-1]


def recipes_of(scores: Scores, path: Sequence[Step]) -> list[Recipe]:
    """The recipes of a path, in the order of the text."""
    found: list[Recipe] = []
    above: list[tuple[str, Span]] = []  # numbers right above the first title
    for _, label, span in path:
        if label in _TITLES:
            found.append(Recipe())
        if found:
            found[-1].spans.append((label, scores.spans[span]))
        else:
            told = read_stated_line(scores.clauses[scores.spans[span].first].line.text)
            said = ("numbers", scores.spans[span])
            above = [*above, said] if told.certain or told.heading or told.possible else []
    return _with_numbers_above(found, above)


def _with_numbers_above(found: list[Recipe], above: list[tuple[str, Span]]) -> list[Recipe]:
    """Recipes with the numbers above their titles, where each title has some and the last list none below."""
    ends = [above]
    for recipe in found:
        at = len(recipe.spans)
        while recipe.spans[at - 1][0] == "numbers":
            at -= 1
        ends.append(recipe.spans[at:])
    own = any(label == "numbers" for recipe in found[:1] for label, _ in recipe.spans)
    if ends[-1] or not all(ends[:-1]) or own != (len(found) > 1):
        return found
    return [
        Recipe([one.spans[0], *told, *one.spans[1 : len(one.spans) - len(behind)]])
        for one, told, behind in zip(found, ends, ends[1:], strict=False)
    ]


def as_card(recipes: Sequence[Recipe], clauses: Sequence[Clause]) -> list[CardLine]:
    """The recipes as lines with their roles; only those that say more than a list does."""
    out: list[CardLine] = []
    for recipe in recipes:
        labels = _with_heads_of_numbers(recipe, clauses)
        if _counts_its_title(recipe, labels, clauses):
            labels[1] = "yield"
        labels = _with_steps(recipe, labels, clauses)
        if "item" not in labels or not {"numbers", "yield", "count", "word"} & set(labels):
            continue
        last = max(at for at, label in enumerate(labels) if label in ("item", "bare"))
        before, served = "", False
        spans = [span for _, span in recipe.spans]
        said = " ".join(
            s.text.lower() for label, s in zip(labels, spans, strict=True) if label == "numbers"
        )
        for at, (label, span) in enumerate(zip(labels, spans, strict=True)):
            clause = clauses[span.first]
            no, text = clause.line.no, span.text
            role = "method" if label == "talk" and at > last else _ROLES.get(label, label)
            headed = ":" in clause.line.text or heads_part(text)
            if role == "heading" and at < labels.index("item") and not headed:
                role = "talk"  # "Get these": it heads the whole list
            if role == "title":
                out += _title_lines(no, text, said)
            elif label == "count" and not counts_servings(text, said):
                continue
            elif role == "yield" and served and "numbers" in labels[:at]:
                continue  # "(1 portion)", which the numbers are for
            elif role in ("talk", "method", "numbers") and label == before and out[-1].no == no:
                mark = "" if clause.mark == AMOUNT else clause.mark or ("," * (role == "numbers"))
                out[-1].text += f"{mark} {text}" if mark in ",.:;" else f" {mark} {text}"
            elif role != "heading" or at < last:
                out.append(CardLine(no, text, role=role))
            served = served or role == "yield" or label == "titled"
            before = label
        if not served:
            out += _said_by_the_way(recipe, clauses)
    return out


def _with_steps(recipe: Recipe, labels: list[str], clauses: Sequence[Clause]) -> list[str]:
    """Labels with foods in a line of sentences below the list as steps, where none of them is measured:
    "Rice on. Chicken in a hot pan, honey in. Broccoli gets 3 mins"."""
    items = [at for at, label in enumerate(labels) if label in _ITEMS]
    of_line: dict[int, list[int]] = {}
    for at in items:
        of_line.setdefault(clauses[recipe.spans[at][1].first].line.no, []).append(at)
    out = list(labels)
    for places in list(of_line.values())[_LEAST_ABOVE:]:
        text = clauses[recipe.spans[places[0]][1].first].line.text
        if _SENTENCES.search(text) and not any(
            _is_measured(recipe.spans[at][1].text) for at in places
        ):
            for at in places:
                out[at] = "method"
    return out


def _is_measured(text: str) -> bool:
    return any(m.unit != "piece" for m in parse(text).measures)


def _counts_its_title(recipe: Recipe, labels: list[str], clauses: Sequence[Clause]) -> bool:
    """Whether what stands alone between the title and the list counts what the title names."""
    if labels[1:4] != ["item"] * 3:
        return False
    counted, first, second = (span for _, span in recipe.spans[1:4])
    alone = clauses[first.first].blank and not clauses[second.first].blank
    return alone and bool(counts_title(counted.text, recipe.spans[0][1].text))


def _with_heads_of_numbers(recipe: Recipe, clauses: Sequence[Clause]) -> list[str]:
    """The labels of a recipe's spans; what numbers are for belongs to them: "In a cup: 210 kcal"."""
    labels = [label for label, _ in recipe.spans]
    lines = [clauses[span.first].line.no for _, span in recipe.spans]
    title = _title_words(recipe)
    for at, (label, span) in enumerate(recipe.spans[:-1]):
        if labels[at + 1] == "numbers":
            beside, thing = lines[at] == lines[at + 1], thing_of(span.text)
            one = is_one_thing(span.text) and (
                label == "yield"
                or (beside and thing in title)
                or read_stated_line(span.text).heading
            )
            if one or (label == "heading" and beside and thing):  # "One plate: 410 kcal"
                labels[at] = "numbers"
            for first in range(at, 0, -1):  # "All 4 servings: 1728 kcal"
                if lines[first] != lines[at + 1] or labels[first] in ("numbers", "item"):
                    break
                if _says_for_what(recipe.spans[first][1], recipe.spans[at + 1][1], clauses):
                    labels[first : at + 1] = ["numbers"] * (at + 1 - first)
                    break
    return labels


def _says_for_what(span: Span, numbers: Span, clauses: Sequence[Clause]) -> bool:
    """Whether it is a span in front of numbers that says what they are for: "All 4 servings: 1728 kcal"."""
    text = clauses[span.first].line.text[clauses[span.first].start : clauses[numbers.last].end]
    return not read_stated_line(numbers.text).basis and read_stated_line(text).basis is not None


def _words(text: str) -> frozenset[str]:
    return frozenset(singular(word) for word in re.findall(r"[^\W\d_]+", text.lower()))


def _title_words(recipe: Recipe) -> frozenset[str]:
    return _words(title_parts(recipe.spans[0][1].text)[0])


def _said_by_the_way(recipe: Recipe, clauses: Sequence[Clause]) -> list[CardLine]:
    """How many servings a recipe has, where only a sentence says it: "so call it 2 servings", or counts
    what the numbers are for: "kettle gives 8 tubs"."""
    thing = next(
        filter(None, (thing_of(s.text) for label, s in recipe.spans if label == "numbers")), ""
    )
    talk = [span for label, span in recipe.spans if label in ("talk", "numbers")]
    told = [(span, said) for span in talk for said in find_facts(span.text).yields
            if read_yield(said).kind == "serving"]  # fmt: skip
    told += [(span, said) for span in talk if (said := count_of(thing, [span.text]))]
    return [CardLine(clauses[span.first].line.no, said, role="yield") for span, said in told[:1]]


def _title_lines(no: int, text: str, numbers: str) -> list[CardLine]:
    """A title, and what it makes where that stands behind it."""
    title, told = title_parts(text)
    if told and counts_yield(told) and not counts_servings(told, numbers):
        told = ""
    lines = [CardLine(no, ""), CardLine(no, title, begins=True, role="title")]
    return [*lines, CardLine(no, told, role="yield")] if told else lines
