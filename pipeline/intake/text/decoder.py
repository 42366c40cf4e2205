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
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from pipeline.foods.words import singular
from pipeline.intake.entries import is_heading
from pipeline.intake.facts_line import find_facts, titled_yield, yield_line
from pipeline.intake.numbers import Roles, words_of
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import (
    BULLET,
    GENERIC,
    IGNORED_KEY,
    MAYBE_STATED,
    METHOD,
    NOTES,
    TITLE_KEY,
    begins_section,
)  # fmt: skip
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from pipeline.lines.model import ParsedLine

#: Lines of a text that is decoded; a longer one is a book, which has the markup of one.
MAX_LINES = 6_000
#: Where a line may be cut: signs of a list, the end of a sentence, a label, wide space.
_CUTS = re.compile(
    r"\s+[/+|·•–—=-]\s+|\s*(?:\.{3,}|…|→|⇒|->|=>|;|\||\t)\s*|(?<=[^\W\d_]{2})(?<!\b[Nn]o)\.\s+(?=\S)|(?<!\b[Nn]o)[.!?]\s+(?=[^\W\d_])"
    r"|,\s+|:\s+|\s{3,}"
)
_INGREDIENTS_FOR = re.compile(r"^\W*ingredients\s+(?:for|of)\s+(?=[^\W\d])", re.IGNORECASE)
_BRACKETED = re.compile(r"\([^()]*\)\s*$")
_FIRST = re.compile(r"([^\W\d_]+)(?:,| and | in | with |$)")
_IN_BRACKETS = re.compile(r"^(.*\S)\s*\(([^()]*)\)$")
#: Role of a line by the label of its span, where they differ.
_ROLES = {"bare": "item", "count": "yield", "word": "talk", "titled": "title"}
#: Characters of a line from which on it may be one of a paragraph.
_WRAPPED = 45
_SPAN_CLAUSES = 5
_LINE_CLAUSES = 80
_THING = "[portion serving servings slice item whole container"
_COUNTED = f"^ [hedge makes it open]* [number count one] {_THING} word]{{1,2}} [close dot]* $"
_KNOWN_COUNTED = f"[number count one] word? {_THING}] [close dot]* $"
#: A number in brackets behind a title that may be its servings, at most.
_MOST_SERVINGS = 24
#: Names of fields, as programs write them.
_FIELD = re.compile(r"[^\W_]_[^\W_]")
#: Numbers that an ingredient may have: "2 x 400 g tins (480 g drained)".
_MOST_NUMBERS = 4
_MEASURED = {"mass": 2.5, "volume": 2.5, "trade": 1.8, "package": 1.8}
_NO_FOOD = frozenset(("protein", "carbs", "carb", "carbohydrate", "carbohydrates", "fat", "fibre", "fiber",
                      "kcal", "calories", "cal", "energy", "total", "net"))  # fmt: skip


@cache
def _talk_words() -> dict[str, float]:
    """How much a word of a class tells of a sentence rather than of a name."""
    weight = {
        "pronoun": 1.5,
        "auxiliary": 1.5,
        "determiner": 0.5,
        "conjunction": 0.5,
        "negation": 1.0,
    }
    rows = shared_rows("function_words.csv")
    return {
        word: weight[row["class"]]
        for row in rows if row["class"] in weight
        for word in row["words"].split(";") if word not in ("and", "or", "plus", "one", "a")
    }  # fmt: skip


def _talks(text: str) -> float:
    """How much the words of a text are those of a sentence."""
    return sum(_talk_words().get(word, 0.0) for word in text.lower().split())


class Span(NamedTuple):
    """A stretch of a line: the clauses ``first`` to ``last``, and its text."""

    first: int
    last: int
    text: str


@dataclass(slots=True)
class Clause:
    """A piece of a line between two cuts; ``mark`` is the cut before it, "" at a line's begin."""

    line: CardLine
    at: int
    start: int
    end: int
    mark: str
    blank: bool
    more: int = 0


@dataclass(slots=True)
class Recipe:
    """Spans of one recipe with their labels, in the order of the text."""

    spans: list[tuple[str, Span]] = field(default_factory=list)


def clauses_of(lines: Sequence[CardLine]) -> list[Clause]:
    """The clauses of a text; a line of very many is one."""
    out: list[Clause] = []
    blank = True
    for at, line in enumerate(lines):
        text = line.text
        body = text.strip()
        if not body or (pattern("rule").match(body) and not line.level):
            blank = True
            continue
        start = len(text) - len(text.lstrip())
        bullet = BULLET.match(text)
        step = pattern("step").match(text)
        start = max(start, bullet.end() if bullet else 0, step.end() if step else 0)
        inside = _brackets(text)
        cuts = [
            (m.start(), m.end(), m[0].strip() or " ") for m in _CUTS.finditer(text, start)
            if not inside[m.start()] and m.end() < len(text.rstrip())
        ]  # fmt: skip
        cuts = cuts if len(cuts) < _LINE_CLAUSES else []
        starts = [(start, ""), *((end, mark) for _, end, mark in cuts)]
        ends = [*(begin for begin, *_ in cuts), len(text.rstrip())]
        parts = [(a, b, mark) for (a, mark), b in zip(starts, ends, strict=True) if b > a]
        for no, (a, b, mark) in enumerate(parts):
            out.append(
                Clause(line, at, a, b, mark if no else "", blank and not no, len(parts) - no - 1)
            )
        blank = False
    return out


def _brackets(text: str) -> list[bool]:
    depth, inside = 0, []
    closes = text.count(")")
    for c in text:
        depth += c == "(" and closes > 0
        inside.append(depth > 0)
        if c == ")":
            closes -= 1
            depth = max(0, depth - 1)
    return inside


def _spans(clauses: Sequence[Clause]) -> Iterator[Span]:
    for first, clause in enumerate(clauses):
        most = clause.more if clause.more < _SPAN_CLAUSES else _SPAN_CLAUSES - 1
        lasts = [*range(first, first + most + 1)]
        if not clause.mark and clause.more >= _SPAN_CLAUSES:
            lasts.append(first + clause.more)
        for last in lasts:
            text = clause.line.text[clause.start : clauses[last].end]
            yield Span(first, last, text.strip("*_ ").strip())


class Scores:
    """How well each span of a text serves as what."""

    def __init__(self, clauses: Sequence[Clause]) -> None:
        from pipeline.lines import parse_many

        self.clauses = clauses
        self._levels = Counter(clause.line.level for clause in clauses if not clause.mark)
        self.spans = list(_spans(clauses))
        texts = dict.fromkeys(s.text for s in self.spans if len(s.text) <= 160)
        self._read = dict(zip(texts, parse_many(list(texts)), strict=True))
        self.of = [self._score(span) for span in self.spans]

    def _score(self, span: Span) -> dict[str, float]:
        text, clause = span.text, self.clauses[span.first]
        scores = {"talk": 0.0}
        if not text or not any(c.isalnum() for c in text):
            return scores
        whole_line = not clause.mark and span.last == span.first + clause.more
        outside = _BRACKETED.sub("", text)
        numbers = _numbers(text) if outside == text or _numbers(outside) else 0.0
        if numbers:
            scores["numbers"] = numbers
        if begins_section(text):
            steps_follow = METHOD.match(text) or NOTES.match(text)
            return {"method" if steps_follow else "word": 4.0} | scores
        if numbers < 2:
            self._add_item(scores, span)
            scores |= _yields(text)
            self._add_title(scores, span, whole_line)
            for label in scores.keys() & {"item", "bare"} if whole_line else ():
                scores[label] += 0.6
            if self._goes_on(span):
                for label in scores.keys() - {"talk"}:
                    scores[label] -= 2.0
            if self._labels(span) and not any(c.isdigit() for c in text) and len(text) < 40:
                scores["heading"] = 0.3
            elif whole_line and (is_heading(text) or clause.line.level):
                scores["heading"] = 0.8
        if tells(text) or IGNORED_KEY.match(text):
            scores["talk"] = 0.8
        return scores

    def _labels(self, span: Span) -> bool:
        """Whether a span ends at a colon."""
        return self._mark_behind(span) == ":"

    def _mark_behind(self, span: Span) -> str:
        after = span.last + 1
        return self.clauses[after].mark if after < len(self.clauses) else ""

    def _add_item(self, scores: dict[str, float], span: Span) -> None:
        line = self._read.get(span.text)
        if line is not None and not span.text.endswith(":"):
            score = of_item(line)
            if score > -2:
                scores["item" if line.measures else "bare"] = score

    def _add_title(self, scores: dict[str, float], span: Span, whole_line: bool) -> None:
        text, clause = span.text, self.clauses[span.first]
        label = clause.mark == ":" and self.clauses[span.first - 1].mark == ""
        if clause.mark and not label:
            return
        keyed = TITLE_KEY.match(text) is not None
        bare, told = title_parts(text)
        words = len(bare.split())
        if (
            sum(c.isalpha() for c in bare) < 3 or words > 10 or GENERIC.match(bare)
            or bare.endswith((".", ",", ";")) or MAYBE_STATED.search(bare)
            or IGNORED_KEY.match(bare) or yield_line(text) or _leads().fullmatch(bare)
        ):  # fmt: skip
            return
        score = 0.5 - 0.25 * max(0, words - 6)
        score += 4.0 * keyed + self._level(clause) + 1.0 * clause.blank
        score += 3.0 * bool(told) + 1.0 * bare.isupper() + 0.7 * names_food(bare)
        score += 0.5 * whole_line - 1.5 * bool(BULLET.match(clause.line.text))
        score += 3.0 * bool(_INGREDIENTS_FOR.match(text))
        score -= 1.0 * (text.endswith(":") or self._labels(span)) + 2.0 * (
            ": " in bare and not keyed
        )
        score -= 2.5 * any(c.isdigit() for c in _BRACKETED.sub("", bare)) + _talks(bare)
        score -= 1.5 * (self._mark_behind(span) == "," and not told)
        score -= 3.0 * (bare[:1] in "#<@{[" or "@" in bare) + 2.0 * self._goes_on(span)
        score -= 1.5 * tells(bare)
        line = self._read.get(text)
        if line is not None and line.measures and not told:
            score -= 1.0
        if score > -2:
            scores["titled" if told else "title"] = score

    def _level(self, clause: Clause) -> float:
        """What a heading counts: one of several of its rank more than the one above them all."""
        level = clause.line.level
        return 0.0 if not level else 2.0 if self._levels[level] > 1 else 1.0

    def _goes_on(self, span: Span) -> bool:
        """Whether a span begins a line that goes on with the sentence of the line above."""
        clause = self.clauses[span.first]
        if clause.mark or clause.blank or not span.first or not span.text[:1].islower():
            return False
        above = self.clauses[span.first - 1].line.text.strip()
        return len(above) > _WRAPPED and not above.endswith((".", "!", "?", ":"))


def tells(text: str) -> bool:
    """Whether a text tells what to do: it begins with a verb, or a word and "the"."""
    from pipeline.intake.spoken.lexicon import lexicon

    first = _FIRST.match(text)
    listed = first is not None and first[1].lower() in lexicon().verbs  # "Mash, flake, mix"
    return listed or bool(
        pattern("verb_start").match(text) or Roles(text).search("^ word definite")
    )


def of_item(line: ParsedLine) -> float:
    """How well the text of a line serves as an ingredient: 2.5 for a weighed food that is known."""
    text, words = line.text, line.name.split()
    if line.kind != "food" or not words or _FIELD.search(text):
        return -3.0
    if set(words) <= _NO_FOOD or Roles(text).search("^ timing number"):
        return -3.0
    known = known_food(line.name)
    counted = pattern("quantity").match(text) is not None
    if line.measures:
        score = max(_MEASURED.get(m.kind, 1.5) for m in line.measures)
        score = score if known else 0.6 if score > 1.5 else -1.0
        score -= 1.0 * (Roles(text).search("definite") is not None) + 0.5 * _talks(text)
        score -= 0.4 * max(0, len(text.split()) - 9)
    elif counted:
        score = 0.4 if known else -2.0
    else:
        plain = len(words) <= 3 and len(text.split()) < 7 and not Roles(text).search("definite")
        score = 0.4 if known and plain else -2.0
    if tells(text) or Roles(text).search("[number count one fraction] article? time"):
        score -= 3.0
    many = len(re.findall(r"(?<![\d.,])\d", text)) - _MOST_NUMBERS
    return score - 0.5 * text.endswith((".", "!", "?")) - 1.5 * max(0, many)


def title_parts(text: str) -> tuple[str, str]:
    """A title and what it makes where that stands beside it: "Pea soup (6 mugs)"; "" for nothing."""
    key = TITLE_KEY.match(text)
    title, told = titled_yield(key["value"] if key else title_of(text))
    if told:
        first = {singular(word) for word in title.lower().split()[:-1]}
        return title, "" if first & {singular(word) for word in told.lower().split()} else told
    behind = _IN_BRACKETS.match(title)
    if behind and behind[2].isdigit() and 1 < int(behind[2]) <= _MOST_SERVINGS:
        return behind[1], f"{behind[2]} servings"
    if behind and _yields(behind[2]):
        return behind[1], behind[2]
    return title, ""


def names_food(text: str) -> bool:
    from pipeline.intake.spoken.lexicon import lexicon

    known = lexicon()
    return any(known.fold(w) in known.food_words for w in re.findall(r"[^\W\d_]+", text.lower()))


@cache
def _leads() -> re.Pattern[str]:
    """A day or a meal, which leads to a title and is none."""
    return re.compile(rf"(?:{words_of('card_words.csv', 'lead')})s?\W*\d*\W*", re.IGNORECASE)


def title_of(text: str) -> str:
    """A title without what leads to it: "Ingredients for Pea soup" is "Pea soup"."""
    named = _INGREDIENTS_FOR.sub("", text)
    return pattern("title_lead").sub("", named)


def known_food(name: str) -> bool:
    """Whether the last words of a name are those of a food that the index knows."""
    from pipeline.intake.spoken.lexicon import lexicon

    known = lexicon()
    words = [known.fold(word) for word in re.findall(r"[^\W\d_]+", name.lower())]
    return any(
        tuple(words[a:b]) in known.food_set
        for a in range(len(words)) for b in range(a + 1, min(len(words), a + 4) + 1)
    )  # fmt: skip


def _numbers(text: str) -> float:
    if not MAYBE_STATED.search(text):
        return 0.0
    read = read_stated_line(text)
    tags = {found.tag for found in read.found}
    if read.certain:
        return 2.0 * len(tags) + 1.0 * (read.basis is not None)
    if read.heading:
        return 1.5
    return 1.0 * len(tags) if read.possible else 0.0


def _yields(text: str) -> dict[str, float]:
    if yield_line(text):
        return {"yield": 3.0}
    facts = find_facts(text)
    if facts.yields and (facts.only or len(text) < 40):
        beside = len(text.split()) - sum(len(said.split()) for said in facts.yields)
        return {"yield": 2.5 if facts.only else 2.0 - 0.5 * beside}
    counted = len(text) < 30 and Roles(text).search(_COUNTED)
    return {"count": 0.8} if counted else {}


_TITLES = frozenset(("title", "titled"))
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


def closes(state: State) -> float:
    """What a recipe is worth that ends so."""
    if state.items < 0:
        return 0.0
    if state.items == 0:
        return -5.0 - 2.0 * (state.numbers > 0)
    score = 2.0 if state.numbers else 0.5 * state.served - 1.0
    return score - 2.0 * (state.items == 1)


def steps(state: State, label: str, same_line: bool, style: Style) -> tuple[State, float] | None:
    """The state behind a span of a label, and what the step costs; None where it cannot be."""
    if label in _TITLES:
        return State(0, 0, label == "titled", "title"), closes(state)
    if state.items < 0:
        return state, {"item": -3.0, "bare": -3.0, "talk": 0.0, "word": 0.0, "method": 0.0}.get(
            label, -0.3
        )
    if label == "count" and state.last != "title":
        return None
    items, numbers, served = state.items, state.numbers, state.served
    cost = _cost_of_list(state, label) if label in ("item", "bare") else 0.0
    if label == "numbers":
        cost -= 4.0 * (numbers in (2, 4))
        if numbers == 0 and style.behind:
            cost += max(-1.5, min(1.5, style.behind if items else -style.behind))
        numbers = (1 if items else 3) if numbers in (0, 2, 4) else numbers
    elif label == "yield":
        cost -= 1.5 * served + 0.7 * (items > 0)
    elif label == "talk":
        cost -= (0.8 if same_line else 0.2) * (state.last == "item") + 0.3 * (items == 0)
    if state.last == "title":
        cost += _cost_of_title(label, same_line)
    if label not in ("numbers", "yield") and numbers in (1, 3):
        numbers += 1
    last = "method" if label == "talk" and state.last == "method" else label
    last = "item" if label == "bare" else last
    return State(min(2, items + (label == "item")), numbers, served or label in _SERVED, last), cost


def _cost_of_list(state: State, label: str) -> float:
    """What an ingredient costs behind steps, behind talk, behind numbers, before the list."""
    cost = 0.0
    if state.last == "method":
        cost -= 3.0
    elif state.last not in ("item", "heading", "yield", "count", "word") and state.items:
        cost -= 1.5
    cost -= 2.5 * (state.numbers in (1, 2) and state.items >= 2)
    return cost - 1.2 * (state.items == 0 and label == "bare")


def _cost_of_title(label: str, same_line: bool) -> float:
    """What a span right behind a title costs: its facts may stand in its line, its tale does not."""
    if same_line:
        return 1.0 * (label in ("numbers", *_SERVED)) - 1.5 * (label == "talk")
    return -0.5 * (label == "heading")


def _looks(clause: Clause, text: str) -> dict[str, bool]:
    raw = clause.line.text
    bare = text.strip()
    return {
        "blank": clause.blank,
        "indent": raw[:1].isspace(),
        "capitals": bare.isupper(),
        "capital": bare[:1].isupper(),
        "level": bool(clause.line.level),
        "number": bool(pattern("step").match(raw)),
        "bullet": bool(BULLET.match(raw)),
        "strong": raw.strip().startswith(("*", "_", "=", "~", "#", ">")),
        "alone": clause.more == 0,
        "label": clause.mark == ":",
        "colon": bare.endswith(":"),
        "yield": titled_yield(text)[1] is not None,
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
    found = _best(scores, Style())
    titled = [recipe.spans[0][1] for recipe in found]
    if len(titled) > 1:
        found = _best(scores, _style(scores, found, titled))
    return found, clauses


def _style(scores: Scores, found: Sequence[Recipe], titled: Sequence[Span]) -> Style:
    whole = [s for s, of in zip(scores.spans, scores.of, strict=True) if _TITLES & of.keys()]
    of_all = [_looks(scores.clauses[s.first], s.text) for s in whole]
    of_titles = [_looks(scores.clauses[s.first], s.text) for s in titled]
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


def _best(scores: Scores, style: Style) -> list[Recipe]:
    """The best path through the spans of a text."""
    begins: dict[int, list[int]] = {}
    for at, span in enumerate(scores.spans):
        begins.setdefault(span.first, []).append(at)
    ends = len(scores.clauses)
    best: list[dict[State, tuple[float, int, State | None, int, str]]] = [
        {} for _ in range(ends + 1)
    ]
    best[0][State()] = (0.0, -1, None, -1, "")
    for first in range(ends):
        same_line = bool(scores.clauses[first].mark)
        for at in begins.get(first, ()):
            span, of = scores.spans[at], scores.of[at]
            extra = _shared(scores, span, of, style)
            for state, (score, *_) in best[first].items():
                for label, own in of.items():
                    step = steps(state, label, same_line, style)
                    if step is None:
                        continue
                    new, cost = step
                    title = label in _TITLES
                    unread = own if state.items >= 0 or title else min(own, 0.5)
                    total = score + unread + cost + (extra if title else 0.0)
                    held = best[span.last + 1].get(new)
                    if held is None or total > held[0]:
                        best[span.last + 1][new] = (total, first, state, at, label)
    return _recipes(scores, best)


def _shared(scores: Scores, span: Span, of: dict[str, float], style: Style) -> float:
    if not _TITLES & of.keys() or not style.titles:
        return 0.0
    looks = _looks(scores.clauses[span.first], span.text)
    return sum(style.titles[look, value] for look, value in looks.items())


def _recipes(
    scores: Scores, best: Sequence[dict[State, tuple[float, int, State | None, int, str]]]
) -> list[Recipe]:
    at = len(scores.clauses)
    state: State | None = max(best[at], key=lambda s: best[at][s][0] + closes(s))
    path: list[tuple[str, Span]] = []
    while state is not None and at > 0:
        _, before, previous, span, label = best[at][state]
        path.append((label, scores.spans[span]))
        at, state = before, previous
    found: list[Recipe] = []
    for label, one in reversed(path):
        if label in ("title", "titled"):
            found.append(Recipe())
        if found:
            found[-1].spans.append((label, one))
    return found


def as_card(recipes: Sequence[Recipe], clauses: Sequence[Clause]) -> list[CardLine]:
    """The recipes as lines with their roles; only those that say more than a list does."""
    out: list[CardLine] = []
    for recipe in recipes:
        labels = [label for label, _ in recipe.spans]
        if "item" not in labels or not {"numbers", "yield", "count", "word"} & set(labels):
            continue
        last = max(at for at, label in enumerate(labels) if label in ("item", "bare"))
        before, served = "", False
        said = " ".join(span.text.lower() for label, span in recipe.spans if label == "numbers")
        for at, (label, span) in enumerate(recipe.spans):
            clause = clauses[span.first]
            no, text = clause.line.no, span.text
            role = "method" if label == "talk" and at > last else _ROLES.get(label, label)
            if role == "title":
                out += _title_lines(no, text, said)
            elif label == "count" and not _counts_servings(text, said):
                continue
            elif role == "yield" and served and "numbers" in labels[:at]:
                continue  # "(1 portion)", which the numbers are for
            elif role in ("talk", "method", "numbers") and label == before and out[-1].no == no:
                out[-1].text += (
                    f"{clause.mark} {text}" if clause.mark in ",.:;" else f" {clause.mark} {text}"
                )
            elif role != "heading" or at < last:
                out.append(CardLine(no, text, role=role))
            served = served or role == "yield" or label == "titled"
            before = label
    return out


def _counts_servings(text: str, numbers: str) -> bool:
    """Whether what is counted may be what stated numbers are for: a word of yields, or theirs."""
    found = Roles(text).search(_COUNTED)
    thing = singular(re.findall(r"[^\W\d_]+", text.lower() or " ")[-1:][0]) if found else ""
    known = Roles(text).search(_KNOWN_COUNTED) is not None
    return known or (bool(thing) and re.search(rf"\b{thing}\b", numbers) is not None)


def _title_lines(no: int, text: str, numbers: str) -> list[CardLine]:
    """A title, and what it makes where that stands behind it."""
    title, told = title_parts(text)
    if told and "count" in _yields(told) and not _counts_servings(told, numbers):
        told = ""
    lines = [CardLine(no, ""), CardLine(no, title, begins=True, role="title")]
    return [*lines, CardLine(no, told, role="yield")] if told else lines
