"""What speaks for reading a span of a text as a title, an ingredient, stated numbers and so on.

Each of these is a feature with a name; ``shared/text_weights.csv`` says what it counts, by label.
Weights are fitted by ``benchmarks/fit_text.py``.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

from pipeline.foods.words import singular
from pipeline.intake.counted import heads_numbers, is_thing
from pipeline.intake.entries import is_heading
from pipeline.intake.facts_line import counted, find_facts, titled_yield, yield_line
from pipeline.intake.known_texts import kept_by_text
from pipeline.intake.numbers import DIGITS, Roles, words_of
from pipeline.intake.patterns import pattern
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import (
    KCAL_OF,
    LETTER_ALONE,
    StatedLine,
    is_hot,
    read_stated_line,
    without_claims,
)
from pipeline.intake.text.clauses import AMOUNT, Clause, Span, says_aside, spans_of
from pipeline.intake.text.inline_list import names_nothing, to_taste
from pipeline.intake.text.line_kinds import (
    BULLET,
    GENERIC,
    IGNORED_KEY,
    MAYBE_STATED,
    METHOD,
    NOTES,
    TITLE_KEY,
    begins_section,
    begins_with_compound,
    head_of_list,
    heads_a_list,
    looks_like_ingredient,
    states,
    tells,
)  # fmt: skip
from pipeline.lines.sorting import tells_time_or_heat
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from pipeline.lines.model import ParsedLine

#: Feature → how much of it there is.
Features = dict[str, float]

_INGREDIENTS_FOR = re.compile(r"^\W*ingredients\s+(?:for|of)\s+(?=[^\W\d])", re.IGNORECASE)
#: Signs at both ends of a title.
_FRAMED = re.compile(r"[^\w\s(]+\s*(\w.*[\w.!?)])\s*[^\w\s).!?]+\s*")
#: What parts two sentences.
_SENTENCES = re.compile(r"(?:^|[^\W\d_]{2})[.!?] (?=[^\W\d_])")
_BRACKETED = re.compile(r"\([^()]*\)\s*$")
_IN_BRACKETS = re.compile(r"^(.*\S)\s*\(([^()]*)\)$")
#: Characters of a line from which on it may be one of a paragraph.
_WRAPPED = 45
_LONG = 160
#: The number of a step, without a stop behind it, and a sentence.
_NUMBERED = re.compile(r"^\d{1,2}\s+(?=[^\W\d_]+(?:\s+\S+){3})")
_THING = "[portion serving servings slice item whole container"
_COUNTED = f"^ [hedge makes it open]* [number count one] {_THING} word]{{1,2}} [close dot]* $"
_SERVED = "[makes serves servings]"
_KNOWN_COUNTED = f"[number count one] word? {_THING}] [close dot]* $"
_WORDS = re.compile(r"[^\W\d_]+")
#: A word that files a post: "#easydinner"; a line of these is no title.
_TAG = re.compile(r"(?<!\S)#[^\W\d]\w*")
#: A number in brackets behind a title that may be its servings, at most.
_MOST_SERVINGS = 24
#: Names of fields, as programs write them.
_FIELD = re.compile(r"[^\W_]_[^\W_]")
#: Nutrients that share no name with a food.
_NO_FOOD = frozenset(("ENERC_KCAL", "PROCNT", "CHOCDF", "CHOAVLDF", "FAT", "FIBTG"))
#: Numbers that an ingredient may have: "2 x 400 g tins (480 g drained)".
_MOST_NUMBERS = 4
#: Energy of the macros, as a multiple of the energy beside them, beyond which they are none.
_MOST_ENERGY = 1.3
#: Signs that part the foods of a list and of a name alike.
_LISTS = re.compile(r"[+&/•·]")
#: Words of a title, and of an ingredient, beyond which each counts against it; of a name alone, at most.
_TITLE_WORDS, _MOST_TITLE_WORDS, _ITEM_WORDS, _NAME_WORDS = 6, 10, 9, 4
#: A span is read as what it is less likely than this no more.
_LEAST = -2.0
#: What a text counts as an ingredient that names no food.
_NO_ITEM = -3.0


@cache
def weights() -> dict[str, dict[str, float]]:
    """Label (``step`` and ``end`` for what joins spans) → feature → what one of it counts."""
    out: dict[str, dict[str, float]] = {}
    for row in shared_rows("text_weights.csv"):
        out.setdefault(row["label"], {})[row["feature"]] = float(row["weight"])
    return out


def score(label: str, features: Features) -> float:
    """What features count together for a label."""
    own = weights()[label]
    return sum(own.get(name, 0.0) * much for name, much in features.items())


@cache
def _talk_words() -> dict[str, float]:
    """How much a word of a class tells of a sentence rather than of a name."""
    own = weights()["words"]
    rows = shared_rows("function_words.csv")
    return {
        word: own[row["class"]]
        for row in rows if row["class"] in own
        for word in row["words"].split(";") if word not in ("and", "or", "plus", "one", "a")
    }  # fmt: skip


def talks(text: str) -> float:
    """How much the words of a text are those of a sentence."""
    return sum(_talk_words().get(word, 0.0) for word in text.lower().split())


@cache
def _prepositions() -> frozenset[str]:
    rows = (r for r in shared_rows("function_words.csv") if r["class"] == "preposition")
    return frozenset(word for row in rows for word in row["words"].split(";"))


@cache
def _small_words() -> frozenset[str]:
    rows = shared_rows("function_words.csv")
    return frozenset(word for row in rows for word in row["words"].split(";"))


def _small(text: str) -> bool:
    """Whether the words of a text name nothing: "this one", "me and you"."""
    return _small_words().issuperset(text.lower().split())


def _first_word(text: str) -> str:
    return (text.lower().split() or [""])[0]


class Scores:
    """How well each span of a text serves as what.

    Attributes:
        spans: the stretches of its lines that may be one thing.
        features: for each of them, its features by label.
        of: for each of them, what they count by label.
    """

    def __init__(self, clauses: Sequence[Clause]) -> None:
        from pipeline.lines import parse_many

        self.clauses = clauses
        self._levels = Counter(clause.line.level for clause in clauses if not clause.mark)
        self.spans = list(spans_of(clauses))
        texts = dict.fromkeys(s.text for s in self.spans if len(s.text) <= _LONG)
        self._read = dict(zip(texts, parse_many(list(texts)), strict=True))
        self._items: dict[str, tuple[str, Features] | None] = {}
        self.features = [self._features(span) for span in self.spans]
        self.of = [
            {label: score(label, features) for label, features in one.items()}
            for one in self.features
        ]
        for one in self.of:
            for label in ("item", "bare", "title", "titled"):
                if one.get(label, 0.0) <= _LEAST:
                    one.pop(label, None)

    def _features(self, span: Span) -> dict[str, Features]:
        text, clause = span.text, self.clauses[span.first]
        out: dict[str, Features] = {"talk": {}}
        if not text or not any(c.isalnum() for c in text):
            return out
        if says_aside(text):
            return {"talk": {"tells": 1.0}}
        whole_line = not clause.mark and span.last == span.first + clause.more
        if clause.line.role == "heading":
            return {"talk": {}, "heading": {"line": 1.0}} if whole_line else out
        outside = _BRACKETED.sub("", text) or text
        numbers = _numbers(text) if outside == text or _numbers(outside) else {}
        if not whole_line and LETTER_ALONE.fullmatch(text):
            numbers = {}  # "We ask 80p, or 2 for £1.50"
        if numbers:
            out["numbers"] = numbers
        if begins_section(text):
            steps_follow = METHOD.match(text) or NOTES.match(text)
            return {"method" if steps_follow else "word": {"section": 1.0}} | out
        if numbers.get("certain", 0.0) < 1 and "heading" not in numbers:
            self._add_item(out, span, whole_line)
            of_one = self._mark_behind(span) in (":", "=") and Roles(text).search(
                "^ [one unity article]"
            )
            if not of_one:
                out |= _yields(text)  # and not "1 serving" of "1 serving = 1/4 of the recipe"
            self._add_title(out, span, whole_line)
            self._add_heading(out, span, whole_line)
            if self._goes_on(span):
                for label in out.keys() - {"talk"}:
                    out[label]["goes on"] = 1.0
        if tells(text):
            out["talk"] = {"tells": 1.0}
        return out

    def _labels(self, span: Span) -> bool:
        """Whether a span ends at a colon."""
        return self._mark_behind(span) == ":"

    def _mark_behind(self, span: Span) -> str:
        after = span.last + 1
        return self.clauses[after].mark if after < len(self.clauses) else ""

    def _add_heading(self, out: dict[str, Features], span: Span, whole_line: bool) -> None:
        text = span.text
        if self._labels(span) and not any(c.isdigit() for c in text) and len(text) < 40:
            out["heading"] = {"label": 1.0}
        elif whole_line and (
            is_heading(text)
            or self.clauses[span.first].line.level
            or ((line := self._read.get(text)) and line.kind == "heading")
        ):
            out["heading"] = {"line": 1.0}
        below = self._below(span) if whole_line and not any(map(str.isdigit, text)) else ""
        if below and len(text.split()) <= _TITLE_WORDS and text[-1] not in ".!,;":
            out.setdefault("heading", {})[below] = 1.0
            for label in ("bare", "title", "titled"):
                if label in out:
                    out[label][below] = 1.0

    def _below(self, span: Span) -> str:
        """What right below a line stands: a list, steps, or anything else (""); no blank line between."""
        after = span.last + 1
        if after >= len(self.clauses) or self.clauses[after].blank:
            return ""
        text = self.clauses[after].line.text.strip()
        return (
            "steps below"
            if tells(pattern("step").sub("", text))
            else "list below" * looks_like_ingredient(text)
        )

    def _add_item(self, out: dict[str, Features], span: Span, whole_line: bool) -> None:
        line = self._read.get(span.text)
        if line is None or span.text.endswith(":") or span.text.startswith("#"):
            return
        if self.clauses[span.first].mark == "," and line.measures and names_nothing(line):
            return  # "drained (120 g)", of what stands before it
        if span.text not in self._items:
            self._items[span.text] = item_features(line)
        found = self._items[span.text]
        if found is not None:
            clause = self.clauses[span.first]
            raw, mark = clause.line.text, clause.mark
            own = dict(found[1])
            if (
                own.get("strange food")
                and whole_line
                and not clause.blank
                and _names_alone(span.text)
            ):
                own["name below a line"] = own.pop("strange food")
            if found[0] == "bare" and not whole_line and tells(raw):
                own["of a step"] = 1.0  # "Flour the beef, brown it in the oil, onions, stock"
            out[found[0]] = own | {
                "whole line": float(whole_line), "bullet": float(bool(BULLET.match(raw))),
                "cut out": float(mark == AMOUNT),
                "piece of a strange food": float(
                    mark != "" and any("strange" in name for name in found[1])
                ),
                "amount behind": float(self._mark_behind(span) == AMOUNT),
                "stated numbers": sum(out.get("numbers", {}).values()),
            }  # fmt: skip

    def _add_title(self, out: dict[str, Features], span: Span, whole_line: bool) -> None:
        text, clause = span.text, self.clauses[span.first]
        label = clause.mark == ":" and self.clauses[span.first - 1].mark == ""
        if (clause.mark and not label) or self._mark_behind(span) == AMOUNT:
            return
        keyed = TITLE_KEY.match(text) is not None
        bare, told = title_parts(text)
        said = _BRACKETED.sub("", bare).strip() or bare  # without a remark behind it
        words = len(said.split())
        if words > _MOST_TITLE_WORDS or not may_be_title(bare):
            return
        if yield_line(text) and not (told and (names_food(bare) or is_a_name(bare))):
            return
        line, compound = self._read.get(text), begins_with_compound(bare)
        signs = {
            "any": True, "keyed": keyed, "blank above": clause.blank, "capitals": bare.isupper(),
            "food": names_food(bare), "whole line": whole_line,
            "bullet": BULLET.match(clause.line.text), "makes": told,
            "ingredients for": _INGREDIENTS_FOR.match(text),
            "colon": text.endswith(":") or self._labels(span),
            "two parts": ": " in bare and not keyed,
            "digits": any(map(str.isdigit, said)) and not compound,
            "comma behind": self._mark_behind(span) == "," and not told,
            "sign": bare[:1] in "#<@{[" or "@" in bare, "tells": tells(bare),
            "heading below": self._heading_below(span), "leads on": _first_word(bare) in _prepositions(),
            "part": line is not None and line.kind == "heading",
            "measure": line is not None and line.measures and not told and not compound,
            "part of a list": self._lists_on(span),
        }  # fmt: skip
        features = {name: 1.0 for name, holds in signs.items() if holds}
        features["level"] = self._level(clause)
        features["two sentences"] = float(len(_SENTENCES.findall(f". {said}")) - 1)
        features["words"] = float(max(0, words - _TITLE_WORDS))
        features["sentence"] = talks(said)
        out["titled" if told else "title"] = features

    def _lists_on(self, span: Span) -> bool:
        """Whether a sign of a list without a number behind it parts what stands in a line: "Ham + egg wrap"."""
        mark = self._mark_behind(span)
        if not _LISTS.fullmatch(mark):
            return False
        clause = self.clauses[span.first]
        behind = clause.line.text[self.clauses[span.last].end :]
        return not any(map(str.isdigit, behind))

    def _heading_below(self, span: Span) -> bool:
        """Whether right below a heading stands one of lower rank."""
        level, after = self.clauses[span.first].line.level, span.last + 1
        below = self.clauses[after].line.level if after < len(self.clauses) else 0
        return 0 < level < below

    def _level(self, clause: Clause) -> float:
        """What a heading counts: one of several of its rank more than the one above them all."""
        level = clause.line.level
        return 0.0 if not level else 1.0 if self._levels[level] > 1 else 0.5

    def _goes_on(self, span: Span) -> bool:
        """Whether a span begins a line that goes on with the sentence of the line above."""
        clause = self.clauses[span.first]
        if clause.mark or clause.blank or not span.first or not span.text[:1].islower():
            return False
        above = self.clauses[span.first - 1].line.text.strip()
        return len(above) > _WRAPPED and not above.endswith((".", "!", "?", ":"))


#: Words, an amount and words: "I bought 3 kg of carrots".
_AMID = re.compile(r"(?:[^\W\d_]+\W+){2,}\d[\d.,/]*\s?[^\W\d_]+\.?\s+[^\W\d_]{2}")
_SHARES = frozenset(("portion", "serving", "batch", "recipe", "quantity"))
#: A number that no food's name begins with, as "00 flour" and "5 spice" do.
_DECIMAL = re.compile(r"\d*[.,]\d")


def of_item(line: ParsedLine) -> float:
    """How well the text of a line serves as an ingredient: 2.5 for a weighed food that is known."""
    found = item_features(line)
    return score(*found) if found is not None else _NO_ITEM


def item_features(line: ParsedLine) -> tuple[str, Features] | None:
    """``item`` for a text with an amount, ``bare`` without one, and its features; None for no food."""
    text, words = line.text, line.name.split()
    if line.kind != "food" or not words or heads_a_list(line.name) or _FIELD.search(text):
        return None
    if _of_no_food().issuperset(words) or pattern("price").search(text):
        return None
    roles = Roles(text)
    if roles.search("^ timing number"):
        return None
    known = not _DECIMAL.match(line.name) and any(  # "800 2.10 lentils": two columns run together
        map(known_food, (line.name, *line.alternatives))  # "350 g sipuli / onion"
    )
    known = known or to_taste().fullmatch(text.strip(" .")) is not None
    if line.measures:
        label = "item"
        kinds = {m.kind for m in line.measures}
        kind = ("mass" if kinds & {"mass", "volume"} else
                "trade" if kinds & {"trade", "package"} else "count")  # fmt: skip
        features = {f"{kind} of a {'known' if known else 'strange'} food": 1.0}
        features["definite"] = float(roles.search("definite") is not None)
        features["amount first"] = float(pattern("quantity").match(text) is not None)
        features["sentence"] = talks(text)
        features["words"] = float(max(0, len(text.split()) - _ITEM_WORDS))
        features["label"] = float(bool(head_of_list(text)[0]))
        features["amid words"] = float(_AMID.match(text) is not None)
        features["share of a strange dish"] = float(
            not known and any(m.unit in _SHARES for m in line.measures)
        )
    else:
        label = "bare"
        plain = pattern("quantity").match(text) is not None or (
            len(words) <= 3 and len(text.split()) < 7 and not roles.search("definite")
        )
        features = {"known food": 1.0} if known and plain else {"strange food": 1.0}
        features["sentence"] = talks(text)
        features["count"] = float(roles.search("count | one $") is not None)  # "Onion one"
    features["tells"] = float(
        tells(_NUMBERED.sub("", text))
        or is_hot(text)
        or roles.search(f"(?: {DIGITS} | count | one | fraction) article? time") is not None
    )
    features["compound"] = float(begins_with_compound(text))
    features["makes"] = float(
        any(read_yield(said).servings > 1 for said in find_facts(text).yields)
    )
    features["ends a sentence"] = float(text.endswith((".", "!", "?")))
    features["two sentences"] = float(_SENTENCES.search(text) is not None)
    numbers = len(re.findall(r"(?<![\d.,])\d", text))
    features["numbers"] = float(max(0, numbers - _MOST_NUMBERS))
    return label, {name: much for name, much in features.items() if much}


def _names_alone(text: str) -> bool:
    """Whether a text is a few words that name something and say nothing: "s&p", not "Enjoy!"."""
    few = len(text.split()) <= _NAME_WORDS and text[-1:].isalnum() and text[:1].isalnum()
    return few and not (
        set("#@") & set(text) or any(map(str.isdigit, text)) or MAYBE_STATED.search(text)
    )


@cache
def _of_no_food() -> frozenset[str]:
    """Words that name a nutrient and no food, and those beside them: "total carbs"."""
    names = [
        name.split() for row in shared_rows("nutrient_words.csv") if row["tag"] in _NO_FOOD
        for name in row["words"].split(";")
    ]  # fmt: skip
    heads = {form for name in names if len(name) == 1 for form in (name[0], name[0] + "s")}
    return frozenset(heads | {name[0] for name in names if len(name) == 2 and name[1] in heads})


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


def may_be_title(text: str) -> bool:
    """Whether a text is nothing that no title is: a sentence, a price, a day, the word "Recipes"."""
    said = _BRACKETED.sub("", text).strip() or text
    dated = pattern("dated").match(text)
    return not (
        sum(c.isalpha() for c in text) < 3 or GENERIC.match(text)
        or text.endswith((".", ",", ";"))
        or 2 * len(_TAG.findall(text)) >= len(text.split())
        or _speaks_of_numbers(without_claims(text if any(map(str.isdigit, text)) else said))
        or IGNORED_KEY.match(text) or _leads().fullmatch(text) or pattern("price").search(text)
        or _small(text) or pattern("open_end").search(text) or tells_time_or_heat(text)
        or Roles(text).search(f"{_SERVED} $")
        or (dated and not any(map(str.isalpha, text[dated.end() :])))
    )  # fmt: skip


def names_food(text: str) -> bool:
    from pipeline.intake.spoken.lexicon import lexicon

    known = lexicon()
    return any(known.fold(w) in known.food_words for w in re.findall(r"[^\W\d_]+", text.lower()))


@cache
def _leads() -> re.Pattern[str]:
    """A day or a meal, which leads to a title and is none."""
    return re.compile(rf"(?:{words_of('card_words.csv', 'lead')})s?\W*\d*\W*", re.IGNORECASE)


def title_of(text: str) -> str:
    """A title without what leads to it or frames it: "Ingredients for Pea soup", "~ 2) Pea soup ~"."""
    framed = _FRAMED.fullmatch(text)
    named = _INGREDIENTS_FOR.sub("", framed[1] if framed else text)
    return pattern("title_lead").sub("", named)


@kept_by_text
def known_food(name: str) -> bool:
    """Whether the last words of a name are those of a food that the index knows."""
    from pipeline.intake.spoken.lexicon import lexicon

    known = lexicon()
    words = [known.fold(word) for word in re.findall(r"[^\W\d_]+", name.lower())]
    return any(
        tuple(words[a:b]) in known.food_set
        for a in range(len(words)) for b in range(a + 1, min(len(words), a + 4) + 1)
    )  # fmt: skip


def _speaks_of_numbers(text: str) -> bool:
    """Whether a text may state numbers, head them or list foods; "Salt lassi" does none of it."""
    counts = any(c.isdigit() for c in text) and not begins_with_compound(text)
    return bool(MAYBE_STATED.search(text)) and ("," in text or counts or states(text))


def _numbers(text: str) -> Features:
    if not (MAYBE_STATED.search(text) or heads_numbers(text)):
        return {}
    read = read_stated_line(text)
    tags = float(len({found.tag for found in read.found}))
    basis = float(read.basis is not None)
    if read.certain:
        return {"certain": tags, "basis": basis, "too much for its energy": _too_much(read)}
    if read.heading:
        return {"heading": 1.0}
    if read.possible:
        return {"possible": tags}
    energy = any(found.tag == "ENERC_KCAL" and found.unit for found in read.found)
    if (energy and (basis or tags > 1)) or tags >= len(KCAL_OF):  # "I make it 350 calories a bowl"
        return {"in a sentence": tags, "basis": basis, "strange words": float(read.strange)}
    return {}


def is_a_name(text: str) -> bool:
    """Whether a text is several words, none of which is of everyday talk: "Spag bol"."""
    words = _WORDS.findall(text.lower())
    usual = _everyday()
    return len(words) > 1 and usual.isdisjoint(words)


@cache
def _everyday() -> frozenset[str]:
    from pipeline.intake.spoken.phrases import word_class

    classes = ("function", "talk", "filler", "verb", "before_titles", "within_titles")
    said = (word for row in shared_rows("head_words.csv") for word in _WORDS.findall(row["words"]))
    return frozenset(said).union(*map(word_class, classes))


def _too_much(read: StatedLine) -> float:
    """1 where the macros of a text have more energy than it says: "180C, 30 min, 490 kcal"."""
    stated = {found.tag: found.amount for found in read.found}
    energy = stated.get("ENERC_KCAL", math.inf)
    told = sum(KCAL_OF[tag] * amount for tag, amount in stated.items() if tag in KCAL_OF)
    return float(told > _MOST_ENERGY * energy)


def _yields(text: str) -> dict[str, Features]:
    told = yield_line(text)
    if told and not (made := read_yield(told)).fault:  # "Make a white sauce" counts nothing
        return {"yield": {"line": 1.0, "one": float(made.servings == 1)}}
    facts = find_facts(text)
    if facts.yields and (facts.only or len(text) < 40):
        if facts.only:
            return {"yield": {"facts only": 1.0}}
        beside = len(text.split()) - sum(len(said.split()) for said in facts.yields)
        if beside and all(read_yield(said).servings == 1 for said in facts.yields):
            return {}  # "1 portion Pea soup"
        return {"yield": {"fact": 1.0, "words beside": float(beside)}}
    counts = len(text) < 30 and Roles(text).search(_COUNTED)
    return {"count": {"any": 1.0}} if counts else {}


def counts_servings(text: str, numbers: str) -> bool:
    """Whether what is counted may be what stated numbers are for: a word of yields, or theirs."""
    found = Roles(text).search(_COUNTED)
    things = {word for _, words, _ in counted(text) for word in words} if found else set()
    known = Roles(text).search(_KNOWN_COUNTED) is not None
    return known or any(
        is_thing(thing, word) for word in _WORDS.findall(numbers) for thing in things
    )


def counts_yield(text: str) -> bool:
    """Whether a text only counts things, of which none is known to be served."""
    return "count" in _yields(text)


def looks(clause: Clause, text: str) -> dict[str, bool]:
    """What the titles of a text may have in common."""
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
