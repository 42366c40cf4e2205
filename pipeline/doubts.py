"""What is put right, or asked, once a line has its food and its grams.

The stages judge words and weights apart. What only both together show stands here: a leaf measured
by the teaspoon, two foods that share one amount, a weight that no recipe holds. Text by text, so
that the run, the bulk run and the review page come to the same.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from pipeline.foods import singular, words
from pipeline.lines import parse
from pipeline.lines.several import shared_out
from pipeline.lines.vocabulary import LEXICON
from pipeline.match.confidence import STOOD_IN
from pipeline.match.model_file import load_model
from pipeline.match.near import near
from pipeline.match.spelling import is_slip

if TYPE_CHECKING:
    from pipeline.lines.model import ParsedLine
    from pipeline.match.matcher import Matcher
    from pipeline.match.model import Match
    from pipeline.reading import Tools
    from pipeline.weigh.weight import Weight

#: Codes of the weigh stage after which a line is not taken for granted, however sure its food is.
ASKED = frozenset({"amount-unusual", "weight-each-or-total", "unit-missing"})
#: Confidence left to a food that has its amount together with another.
_SHARED = 0.5
#: A runner-up believed less than this is none that a choice is left between.
_LIKELY = 0.03
_SPICES = "Spices and Herbs"
#: From half a cup on nobody means a concentrate (common practice).
_BY_THE_CUP = frozenset({"cup", "pint", "quart"})
_CUPFUL = 0.5
#: Words in which a slip may be put right; shorter ones are another word too easily.
_LONG_WORDS = re.compile(r"[^\W\d_]{5,}")
_SHORT_WORK = 5
_STATED = frozenset({"fresh", "dried", "raw", "ground", "whole", "frozen", "cooked"})


def _open(match: Match) -> bool:
    """Whether a food would be asked about if its name were not a known one."""
    sure = match.status == "accepted" and match.confidence >= load_model().accept_from
    return match.status != "unmatched" and not sure


def slips_in_work(parsed: Sequence[ParsedLine], matcher: Matcher) -> list[ParsedLine]:
    """Lines with slips in words of kitchen work and of states put right: "tuna, draned" is drained.

    A word counts as one where no food, name or table of words has it, and one slip of fingers or ears
    makes it of a word of work that no food is called by.
    """
    lines, meant = list(parsed), matcher.index.work_meant
    for at, line in enumerate(parsed):
        for written in _LONG_WORDS.findall(line.text):
            word = written.lower()
            right = meant.get(word)
            if right is None:
                right = meant[word] = _work_meant(word, matcher)
            if right:  # the rest of the line keeps its case: "1 T"
                lines[at] = replace(parse(line.text.replace(written, right, 1)), text=line.text)
                break
    return lines


def _work_meant(word: str, matcher: Matcher) -> str:
    """The word of work or of a state that a word is one slip away from; "" for a known word."""
    spelling = matcher.index.spelling
    if word in spelling or word in LEXICON or singular(word) in spelling:
        return ""
    from rapidfuzz import process  # here: most lines are of words that are known
    from rapidfuzz.distance import OSA

    found = process.extractOne(word, _work_words(), scorer=OSA.distance, score_cutoff=1)
    return found[0] if found is not None and is_slip(word, found[0]) else ""


@cache
def _work_words() -> tuple[str, ...]:
    return tuple(
        word for word, entry in LEXICON.items()
        if len(word) > _SHORT_WORK and (entry.prep or entry.effects) and word.endswith("ed")
    )  # fmt: skip


def read_otherwise(
    parsed: Sequence[ParsedLine], matches: Sequence[Match], tools: Tools
) -> tuple[list[ParsedLine], list[Match]]:
    """Lines and foods, where amount and food together show that another one is meant."""
    lines, found = [], []
    for line, match in zip(parsed, matches, strict=True):
        for reading in (_behind_label, _by_the_teaspoon, _by_the_cup):
            line, match = reading(line, match, tools) or (line, match)
        lines.append(line)
        found.append(match)
    return lines, found


def _behind_label(line: ParsedLine, match: Match, tools: Tools) -> tuple[ParsedLine, Match] | None:
    """Read "veg: 100 g broccoli" as broccoli and "rice: 75 g basmati" as basmati rice: a food with its
    amount stands after a word for its kind, for its place in the dish, or for nothing that is food.

    The words after the amount have to be a name, with those before it or by themselves; or else the
    line is not known as it stands.
    """
    if "labelled" not in line.flags:
        return None
    index, amount = tools.matcher.index, line.measures[0].of_text[0]
    behind = parse(" " * amount + line.text[amount:])
    said = words(behind.name)
    if behind.kind != "food" or not said or set(said) <= {*words(line.name)} or all(
        word in LEXICON and LEXICON[word].prep for word in said
    ):  # fmt: skip
        return None  # "oil: 1 tbsp olive" is read so already; "potatoes: 500 g mashed" is work
    names = (f"{behind.name} {line.name}", f"{line.name} {behind.name}", behind.name)
    name = next((n for n in names if index.knowledge.canonical(words(n)) in index.names), "")
    if not name and match.status == "accepted":
        return None
    other = replace(behind, text=line.text, name=name or behind.name)
    answer = tools.matcher.match_one(other)
    if answer.status == "accepted" or (name and match.status != "accepted"):
        return other, answer
    return None


def _by_the_teaspoon(
    line: ParsedLine, match: Match, tools: Tools
) -> tuple[ParsedLine, Match] | None:
    """Read "½ tsp coriander" as the ground spice: leaves are no matter of teaspoons.

    Only where the food is open as it stands, the line says nothing of its state, and its ground
    form is a spice of the table beyond doubt.
    """
    if (
        not line.measures or line.measures[0].unit != "tsp" or line.notes
        or line.states & _STATED or match.origin != "table" or not _open(match)
    ):  # fmt: skip
        return None
    ground = replace(
        line, states=line.states | {"ground"}, name=f"ground {line.name}",
        rest=f"ground {line.rest}",
    )  # fmt: skip
    spice = tools.matcher.match_one(ground)
    if (
        spice.status == "accepted" and spice.confidence > match.confidence
        and tools.weigher.group_of(spice.food_id, spice.reference_id) == _SPICES
    ):  # fmt: skip
        return ground, replace(spice, reason=f"{spice.reason}; ground, as it goes by the teaspoon")
    return None


def _by_the_cup(line: ParsedLine, match: Match, tools: Tools) -> tuple[ParsedLine, Match] | None:
    """Read "1½ cups tomato puree" as the thin one of the tin: pastes go by the spoon.

    Only where the food chosen is a paste that the line does not call so, and the same name out of a
    tin is another food and no paste.
    """
    if not line.measures or match.origin != "table":
        return None
    first = line.measures[0]
    if (
        first.unit not in _BY_THE_CUP or first.amount < _CUPFUL
        or "paste" not in words(match.description) or "paste" in words(line.rest)
    ):  # fmt: skip
        return None
    tinned = replace(line, states=line.states | {"canned"})
    other = tools.matcher.match_one(tinned)
    if (
        other.status == "accepted" and other.food_id != match.food_id
        and "paste" not in words(other.description)
    ):  # fmt: skip
        return tinned, replace(other, reason=f"{other.reason}; no paste, as it goes by the cup")
    return None


def asked(line: ParsedLine, match: Match, weight: Weight, matcher: Matcher) -> Match:
    """``match``, for review where food and weight together leave a doubt that neither alone has.

    A food that a person has decided is never asked; grams alone leave open which of two foods they are of.
    """
    if match.status != "accepted" or match.origin == "decision":
        return match
    if share_an_amount(line, match, matcher):
        return replace(
            match, status="to review", confidence=min(match.confidence, _SHARED),
            reason=f"{match.reason}; the line gives two foods one amount: write each with its own",
        )  # fmt: skip
    if weight.basis == "decision":
        return match
    if line.remarks.says("of_choice") and _differ(match, matcher):
        return replace(
            match, status="to review", confidence=min(match.confidence, STOOD_IN),
            reason=f"{match.reason}; the line leaves the choice open, and the choices differ",
        )  # fmt: skip
    if not ASKED.isdisjoint(weight.problems):
        return replace(
            match, status="to review",
            reason=f"{match.reason}; its food is clear, its weight is not",
        )  # fmt: skip
    return match


def _differ(match: Match, matcher: Matcher) -> bool:
    """Whether another food that the words may mean is made of something else."""
    mine, macros = matcher.position(match.food_id or ""), matcher.index.foods.macros
    others = (
        matcher.position(c.food_id) for c in match.runners_up if c.probability >= _LIKELY
    )  # fmt: skip
    return mine >= 0 and any(at >= 0 and not near(mine, at, macros) for at in others)


def parts_in(line: ParsedLine, matcher: Matcher) -> tuple[str, ...]:
    """The text of each food that a line holds; () where it holds one.

    Beside what the wording gives (``line.parts``): "2 tbsp butter and oil" is half butter, half
    oil, where either is a food by itself and no name or description holds both.
    """
    if line.parts or " and " not in line.name or len(line.measures) != 1:
        return line.parts
    first, _, second = line.name.partition(" and ")
    plain = [word for word in second.split() if _names(word)]
    measure = line.measures[0]
    if len(plain) != 1 or measure.each is not None or line.plus or line.alternatives:
        return ()
    if not _names_two(line, matcher) or not _are_two(matcher.match_one(line)):
        return ()
    parts = _amount_of_first(line, second, matcher) or shared_out(measure, (first, second))
    matches = [matcher.match_one(parse(part)) for part in parts]
    return parts if all(t.status == "accepted" for t in matches) else ()


def _amount_of_first(line: ParsedLine, second: str, matcher: Matcher) -> tuple[str, ...]:
    """ "1 litre stock and pepper", "2 onions and garlic": a spice after a food, and what is named
    in the singular after a number, have no part in the amount; () for others."""
    text, measure = line.text, line.measures[0]
    joined = re.search(rf"\s*(?:\band\b|[&+])\s*(?={re.escape(second)}\b)", text, re.IGNORECASE)
    if joined is None:
        return ()
    parts = text[: joined.start()], text[joined.end() :]
    if measure.unit == "piece" and measure.amount > 1 and singular(second) == second:
        return parts
    food, spice = (_is_spice(matcher.match_one(parse(part)), matcher) for part in parts)
    return parts if spice and not food else ()


def _is_spice(match: Match, matcher: Matcher) -> bool:
    at = matcher.position(match.reference_id or match.food_id or "")
    return at >= 0 and matcher.index.foods.categories[at] == _SPICES


def share_an_amount(line: ParsedLine, match: Match, matcher: Matcher) -> bool:
    """Whether a line such as "2 tbsp butter and oil" names two foods and was given one.

    Not where a name that cooks use, or the description of the food, holds both ("half and half",
    "peas and carrots"), nor where "and" joins adjectives ("cooked and peeled prawns").
    """
    if " and " not in line.name or line.parts or not line.measures or match.food_id is None:
        return False
    return _are_two(match) and _names_two(line, matcher)


def _are_two(match: Match) -> bool:
    """Whether the food of a line with "and" holds not both, by its description or by a person."""
    joined = any(word in ("and", "with") for word in words(match.description))
    return match.origin in ("table", "none") and not joined


def _names_two(line: ParsedLine, matcher: Matcher) -> bool:
    """Whether the "and" of a name joins two names of foods that no known name holds together."""
    tokens = line.name.split()
    at = tokens.index("and")
    if not 0 < at < len(tokens) - 1 or not (_names(tokens[at - 1]) and _names(tokens[-1])):
        return False
    phrase = matcher.index.knowledge.canonical(words(line.name))
    place = phrase.index("and") if "and" in phrase else -1
    return place > 0 and not any(
        tuple(phrase[begin:end]) in matcher.index.names
        for begin in range(place)
        for end in range(place + 2, len(phrase) + 1)
    )


def _names(word: str) -> bool:
    """Whether a word may name a food: no state, kind, colour or kitchen work."""
    entry = LEXICON.get(word)
    return entry is None or not (
        entry.prep or entry.modifier or any(not rest for rest, _ in entry.effects)
    )
