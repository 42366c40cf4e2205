"""What a column or key holds, told by its content where its name is in no table."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.foods.words import singular
from pipeline.intake.columns import head_words, is_other, plain, resembles
from pipeline.intake.facts_line import find_facts, yield_line
from pipeline.intake.model import cut
from pipeline.intake.numbers import Roles, number_words
from pipeline.intake.servings import read_yield
from pipeline.intake.structured.yaml_tree import is_null
from pipeline.problems import Problem, input_problem

_WORD = re.compile(r"[^\W\d_]{3,}")
_PIECES = re.compile(r"[\n|;]")
#: Of the pieces of a list of ingredients, those with an amount; the rest is "salt to taste".
_SHARE = 0.6

#: What ends a sentence that another follows; no title holds it.
_SENTENCE = re.compile(r"[^\W\d_]{3}[.!?]\s+[^\W\d_]")
#: The end of a text, with a note in brackets or not.
_NOTED = "(?: open [^ open close]* close)? $"
#: Longer texts are steps or notes.
_LONGEST = 200
#: A longer text is no yield.
_MAX_YIELD = 60


def mostly_lines(texts: Sequence[str]) -> bool:
    """Whether the lines stage reads an amount and a name, not always the same, in most texts."""
    return len(set(_foods(texts))) >= max(2, _SHARE * len(texts))


def are_lines(texts: Sequence[str]) -> bool:
    """Whether it does so in most texts, though always the same."""
    return len(_foods(texts)) >= _SHARE * len(texts)


def _foods(texts: Sequence[str]) -> list[str]:
    """Names behind the amounts of texts, where they have both."""
    from pipeline.lines import parse_many  # here: few files are asked for what they hold

    read = parse_many([text if len(text) <= _LONGEST else "" for text in texts])
    return [line.name for line in read if line.measures and _may_be_food(line.name)]


def _may_be_food(name: str) -> bool:
    """Whether what is counted has a name, and is neither time nor people nor servings."""
    found = Roles(name)
    return found.roles != "" and found.role_at(0) not in ("time", "serving")


def holds_lines(value: Any) -> bool:
    """Whether a value is a list (or a text of several lines) of ingredients with amounts.

    >>> holds_lines(["200 g rice", "1 onion", "salt"]), holds_lines(["1. Mix.", "2. Bake."])
    (True, False)
    """
    if isinstance(value, str):
        value = [piece for piece in _PIECES.split(value) if piece.strip()]
    if not isinstance(value, (list, tuple)):
        return False
    texts = [
        one if isinstance(one, str) else next((v for v in one.values() if isinstance(v, str)), "")
        for one in value if isinstance(one, (str, Mapping))
    ]  # fmt: skip
    return len(texts) == len(value) and mostly_lines(texts)


#: Words beyond which a text with a full stop is a sentence.
_TITLE_WORDS = 4
#: What only counts: "Sheet no. 7".
_NUMBERED = re.compile(r"[^\W\d_]\W*\s\d{1,4}$")


def may_be_title(value: Any) -> bool:
    """Whether a value is a short text of words, on one line, and no number."""
    return (
        isinstance(value, str)
        and value.strip().lower() not in number_words()
        and len(value) <= 100
        and "\n" not in value
        and re.search(r"[^\W\d]{3}", value) is not None
    )


def said(value: Any) -> str:
    """A value as it is read aloud: "energy 320 kcal, protein 12 g".

    >>> said([["kcal", 320], {"name": "Protein", "value": 12, "unit": "g"}])
    'kcal 320, Protein 12 g'
    """
    if isinstance(value, Mapping):
        return ", ".join(f"{_words(str(key))} {flat(one)}" for key, one in value.items())
    if isinstance(value, list):
        return ", ".join(map(flat, value))
    return str(value).strip().replace("\n", ", ")


def flat(value: Any, depth: int = 0) -> str:
    """The texts and numbers of a value one behind the other."""
    if isinstance(value, (Mapping, list)):
        held = value.values() if isinstance(value, Mapping) else value
        parts = (flat(one, depth + 1) for one in held if depth < _MAX_FLAT)
        return " ".join(filter(None, parts))
    known = isinstance(value, (str, int, float)) and not is_null(value)
    return str(value) if known else ""


#: Objects and lists within one another whose texts are one.
_MAX_FLAT = 3


def _words(key: str) -> str:
    return plain(key).replace("_", " ")


def yield_of(key: str, value: Any) -> Any:
    """What a recipe makes, where a value under its key says so; None where it does not."""
    text = flat(value) if isinstance(value, Mapping) else str(value).strip()
    if isinstance(value, (bool, list)) or len(text) > _MAX_YIELD or not text:
        return None
    if plain(key) in head_words("for"):
        return None if math.isnan(read_yield(value).servings) else value
    if Roles(text).search(f"^ number word? [container slice item portion serving whole] {_NOTED}"):
        return text
    for line in (f"{_words(key)}: {text}", f"{_words(key)} {text}", text):
        told = yield_line(line) or next(iter(find_facts(line).yields), None)
        if told and read_yield(told).fault != "holds no number":
            return told
    return None


def best_title(texts: Sequence[str], listed: Sequence[str]) -> str:
    """Of texts that may be titles the first that names a food of the list below; of a food; the first.
    A sentence is one only where nothing else is.

    >>> best_title(["JOB C", "Barley stew", "tea towel"], ["200 g pearl barley"])
    'Barley stew'
    """
    foods = _food_words(listed)
    return max(texts, key=lambda text: _title_worth(text, foods), default="")


def _food_words(listed: Sequence[str]) -> set[str]:
    return {singular(word) for text in listed for word in _WORD.findall(text.lower())}


def _title_worth(text: str, foods: set[str]) -> int:
    """What speaks for a text as the title of a dish of some foods."""
    from pipeline.intake.text.features import names_food  # here: it reads the index of foods

    if _SENTENCE.search(text) or _ADDRESS.search(text):
        return -1
    shared = any(singular(word) in foods for word in _WORD.findall(text.lower()))
    tells = text.endswith((".", "!")) and len(text.split()) > _TITLE_WORDS
    return 2 * shared + names_food(text) - 3 * tells - bool(_NUMBERED.search(text))


#: A file, a page, an id or a day, and no title.
_ADDRESS = re.compile(r"[/\\@]|^[^\s]*(?:\d[^\s]*-|[-_][^\s]*-)|\.[a-z]{3,4}$|^\S*\d{4}-\d\d")


def title_key(named: Sequence[Mapping[str, Any]], listed: Sequence[Sequence[str]]) -> str:
    """The key of titles among values of recipes without another meaning, "" for none: texts that are
    not the same, of which most name what their dish is made of.

    Args:
        named: key to value, of each recipe.
        listed: the foods of each.
    """
    worth: dict[str, float] = {}
    for key in dict.fromkeys(key for one in named for key in one):
        texts = [one.get(key) for one in named]
        told = [
            (text, foods) for text, foods in zip(texts, listed, strict=True) if may_be_title(text)
        ]
        if 2 * len(told) <= len(named) or is_other(key):
            continue
        alike = len(told) - len({text for text, _ in told})
        said = sum(_title_worth(str(text), _food_words(foods)) for text, foods in told)
        said -= sum(_holds_another(one, key) for one in named)
        worth[key] = (
            said / len(told) + 2 * resembles(key, "title") - 3 * (alike > 0) * (len(told) > 1)
        )
    best = max(worth, key=worth.__getitem__, default="")
    return best if worth.get(best, -1) > -1 else ""


def _holds_another(named: Mapping[str, Any], key: str) -> bool:
    """Whether a text holds another one whole, as a name with that of the site behind it does."""
    text = str(named.get(key))
    others = (str(other) for at, other in named.items() if at != key and may_be_title(other))
    return any(other in text and other != text for other in others)


#: Numbers in a text that counts servings, at most: "2 trays (24 bars)".
_MOST_COUNTS = 2
#: More than this is no number of servings that a key of no known name counts.
_MOST_SERVINGS = 60


def count_key(named: Sequence[Mapping[str, Any]]) -> str:
    """The key of what recipes make among values without another meaning, "" where several may be.

    >>> count_key([{"stars": 4, "covers": 2}, {"stars": 4, "covers": 6}, {"stars": 4, "covers": 4}])
    'covers'
    """
    found = {
        key: values
        for key in dict.fromkeys(key for one in named for key in one)
        if not is_other(key)
        and all(map(_counts_servings, values := [one[key] for one in named if key in one]))
        and 2 * len(values) > len(named)
        and list(map(str, values)) != _numbered(len(values))
    }
    served = [key for key in found if all(map(_says_served, found[key]))]
    told = [key for key in found if resembles(key, "servings")]
    varied = [key for key in found if len(set(map(str, found[key]))) > 1]
    for keys in (served, told, varied if len(named) > 1 else [], list(found)):
        if keys:
            return keys[0] if len(keys) == 1 else ""
    return ""


def _numbered(count: int) -> list[str]:
    return [str(no) for no in range(1, count + 1)] if count > 1 else []


def _says_served(value: Any) -> bool:
    """Whether a value says by itself that it counts servings or people: "4 people"."""
    return read_yield(flat(value).strip()).kind == "serving"


#: A range, or numbers of a day and an hour.
_NUMBERS = re.compile(r"\d+(?:\s*(?:-|–|to)\s*\d+)?")


def _counts_servings(value: Any) -> bool:
    text = flat(value).strip()
    if not text or len(text) > _MAX_YIELD or len(_NUMBERS.findall(text)) > _MOST_COUNTS:
        return False
    if not (text[0].isdigit() or text in number_words("count")):
        return bool(yield_line(text))
    text = text.removesuffix(".0")
    read = read_yield(int(text) if text.isdecimal() else text)
    whole = not math.isnan(read.servings) and read.servings % 1 == 0
    return whole and 0 < read.servings <= _MOST_SERVINGS and (text.isalnum() or " " in text)


def read_by_content(name: str, field: str = "ingredients") -> Problem:
    """The note that a field stands under a name that is in no table."""
    return input_problem("read-by-content", name=cut(name, 40), field=field)
