"""What stated numbers are for names what counts the servings: "per tub" beside "tubs: 4"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from pipeline.foods.words import singular
from pipeline.intake.facts_line import counted
from pipeline.intake.numbers import Roles, number_words, read_number, words_of
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.lines.vocabulary import FUNCTION_WORDS

_FOR_ONE = (
    "(?: [per each article one unity slash] [article one unity definite]? | to definite"
    " | ^ mark* (?= [word thing] colon)) size?"
    " (?P<thing> word | portion | serving | servings | whole | container | slice | item | thing)"
    " (?! has? [word portion])"
)
_WORD = re.compile(r"[^\W\d_]+")
#: "One box on its own".
_ONE_WITH = re.compile(
    r"(?P<one>\W*(?:one|1|an?|each|per)\s+[^\W\d_]+)\s+(?P<next>[^\W\d_]+)", re.IGNORECASE
)
#: "Tubs: 4", "mugs six".
_NAMED = re.compile(r"\W*([^\W\d_]+)[^\w]+(\d+(?:[.,]\d+)?|[^\W\d_]+)")
#: Dozens of what nothing behind them names: "(a dozen. From my freezer)", "gives you two dozen".
_DOZENS = re.compile(
    rf"(?:^\W*|\b(?:{words_of('head_words.csv', 'makes', 'has')})\s+(?:you\s+)?)"
    rf"(?P<told>(?:(?:half\s+)?an?|\d+|{'|'.join(number_words('count'))})?\s*dozen)\s*(?:$|[.,;:)])",
    re.IGNORECASE,
)
#: More of anything is no number of servings.
_MOST = 500
#: Words of a line that only says what numbers are for, at most.
_HEAD_WORDS = 4
#: Kinds of a yield whose count is that of servings only because the numbers are for one.
_UNCOUNTED = ("container", "whole", "measure", "")


@lru_cache(maxsize=4096)
def thing_of(text: str) -> str:
    """What numbers are for one of, in the singular; "" where a text does not say.

    >>> thing_of("a_tub"), thing_of("Per plate: 510 kcal"), thing_of("per 100 g"), thing_of("kcal/bun")
    ('tub', 'plate', '', 'bun')
    """
    line = Roles(text.replace("_", " "))
    found = line.search(_FOR_ONE)
    with_ = _ONE_WITH.match(text) if not found else None
    if with_ and FUNCTION_WORDS.get(with_["next"].lower()) == "preposition":
        return thing_of(with_["one"])
    return singular(line.words[found.start("thing")]) if found else ""


def is_one_thing(text: str) -> bool:
    """Whether a text names one of what numbers are for, and nothing else: "One plate"."""
    return len(Roles(text).words) == len(("one", "plate")) and bool(thing_of(text))


def heads_numbers(text: str) -> bool:
    """Whether a text says what numbers are for, and nothing else: "One serving", "Whole batch"; "1 serving"
    may be what a recipe makes."""
    if len(text.split()) > _HEAD_WORDS or text[:1].isdigit():
        return False
    read = read_stated_line(text)
    return read.heading and (read.basis == "per_recipe" or is_one_thing(text))


def count_of(thing: str, texts: Iterable[str]) -> str:
    """How many of a thing the texts say; "" where none or several do.

    >>> count_of("tub", ["keeps: 3 months", "tubs: 4"]), count_of("slice", ["Gives 12 slices", "oven 200 C"])
    ('4 tubs', '12 slices')
    """
    found = {said for text in texts if (said := _count_in(thing, text))} if thing else set()
    if len(found) != 1:
        return ""
    said = found.pop()
    return f"{said.split()[0]} servings" if read_yield(said).kind in _UNCOUNTED else said


def is_thing(counted: str, thing: str) -> bool:
    """Whether what is counted is a thing, or a kind of it in one word.

    >>> is_thing("lunchbox", "box"), is_thing("box", "box"), is_thing("fox", "ox")
    (True, True, False)
    """
    return counted == thing or (len(thing) > 2 and counted.endswith(thing))


def _count_in(thing: str, text: str) -> str:
    for value, words, said in counted(text):
        if value <= _MOST and any(is_thing(word, thing) for word in words):
            word = next(
                (w for w in _WORD.findall(said) if is_thing(singular(w.lower()), thing)), thing
            )
            return f"{value:g} {word}"
    named = _NAMED.match(text)
    dozens = _DOZENS.search(text)
    if dozens:
        return f"{read_yield(dozens['told']).servings:g} {thing}s"
    value = _number(named[2]) if named and is_thing(singular(named[1].lower()), thing) else 0.0
    return f"{value:g} {named[1]}" if named and 0 < value <= _MOST else ""


def _number(word: str) -> float:
    if word[0].isdigit():
        return read_number(word).value
    return number_words("count").get(word.lower(), 0.0)
