"""How many servings: "Serves 4", "Makes 12 squares", "1 loaf (12 slices)", "4 servings (1.2 kg)"."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from pipeline.intake.amounts import NUMBER, read_number
from pipeline.intake.model import NAN

_WORDS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "fifteen": 15, "sixteen": 16, "eighteen": 18,
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "a": 1, "an": 1, "single": 1,
}  # fmt: skip
_COUNT = rf"(?:{NUMBER}|\b(?:{'|'.join(_WORDS)})\b)"
_FIND = re.compile(
    rf"(?P<sign>(?<![\w)])[-−]\s?)?(?P<low>{_COUNT})(?:\s*(?:-|–|—|to|or)\s*(?P<high>{_COUNT}))?"
    rf"(?:\s*(?P<dozen>dozen)(?![\w]))?\s*"
    rf"(?P<word>(?:(?!(?:to|or|of|at|for|per|with|and|from|depending)\b)[^\W\d_][^\W\d_'’-]*\s*){{0,4}})",
    re.IGNORECASE,
)
_GRAMS = {
    "g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "gramme": 1.0, "grammes": 1.0,
    "kg": 1000.0, "kgs": 1000.0, "kilo": 1000.0, "kilos": 1000.0, "kilogram": 1000.0,
    "kilograms": 1000.0, "oz": 28.349523125, "ounce": 28.349523125, "ounces": 28.349523125,
    "lb": 453.59237, "lbs": 453.59237, "pound": 453.59237, "pounds": 453.59237,
}  # fmt: skip
_VOLUME_WORDS = """
    ml millilitre millilitres milliliter milliliters l litre litres liter liters cup cups pint
    pints quart quarts tbsp tablespoon tablespoons tsp teaspoon teaspoons cl dl
"""
_VOLUME = frozenset(_VOLUME_WORDS.split())
_HEDGES = re.compile(
    r"\b(?:about|approx(?:imately|\.)?|around|roughly|makes|serves|yields?|servings?\s*:|portions?\s*:|"
    r"for|up\s+to|ca\.?|enough)\b|~",
    re.IGNORECASE,
)
_SIZES = re.compile(r"^(?:small|medium|large|big|generous|good|hearty|individual|mini)\s+", re.I)
_PEOPLE = frozenset({"people", "person", "persons", "adults", "adult", "as", "x"})


@dataclass(frozen=True, slots=True)
class Yield:
    """Servings, what they are called, the cooked weight, and what is wrong in words ("" is fine).

    ``note`` tells of a reading that was chosen among several.
    """

    servings: float = NAN
    word: str = ""
    yield_g: float = NAN
    fault: str = ""
    note: str = ""


def read_yield(value: object) -> Yield:
    """Read schema.org ``recipeYield``, ``servings: 4`` or the text of a card; total.

    A range takes its middle. A count in brackets wins over the thing it is cut from
    ("1 loaf (12 slices)"). Weights give ``yield_g``; volumes give neither.
    """
    if isinstance(value, dict):
        number = value.get("value", value.get("amount"))
        unit = value.get("unitText", value.get("unit", value.get("name", "")))
        value = number if not unit else f"{number} {unit}"
    if isinstance(value, (list, tuple)):
        read = [read_yield(v) for v in value[:10] if not isinstance(v, (list, tuple))]
        known = [y for y in read if not math.isnan(y.servings)]
        best = max(known, key=lambda y: y.word != "servings", default=read[0] if read else Yield())
        grams = next((y.yield_g for y in read if not math.isnan(y.yield_g)), NAN)
        return Yield(best.servings, best.word, grams, best.fault, best.note)
    if value is None or isinstance(value, bool):
        return Yield()
    if isinstance(value, (int, float)):
        try:
            return _checked(float(value), "", NAN, str(value))
        except OverflowError:
            return Yield(fault="is not finite")
    return _read_text(" ".join(str(value).split())[:300])


def _read_text(text: str) -> Yield:
    if not text:
        return Yield()
    if "∞" in text or re.search(r"\b(?:inf|infinity|nan)\b", text, re.IGNORECASE):
        return Yield(fault="is not finite")
    grams, note = NAN, ""
    counts: list[tuple[int, float, str]] = []
    negative = False
    bare = _HEDGES.sub(lambda m: " " * len(m[0]), text)
    for match in _FIND.finditer(bare):
        value = _value(match["low"])
        if match["dozen"]:
            value *= 12
        word = " ".join((match["word"] or "").split())
        unit = word.split(" ")[0].lower() if word else ""
        if match["low"].lower() in ("a", "an", "single") and not match["dozen"] and not unit:
            continue
        if match["high"]:
            high = _value(match["high"]) * (12 if match["dozen"] else 1)
            if high > value:
                note = f"{value:g} to {high:g} servings were read as {(value + high) / 2:g}"
                value = (value + high) / 2
        if unit in _GRAMS:
            if math.isnan(grams):
                grams = value * _GRAMS[unit]
            continue
        if unit in _VOLUME or unit in ("cm", "inch", "inches", "in", "minutes", "mins", "hours"):
            continue
        if match["sign"]:
            negative = True
            continue
        in_brackets = bare[: match.start()].count("(") > bare[: match.start()].count(")")
        said = text[: match.start("low")].rstrip(" :").lower()
        serving = said.endswith(("serves", "servings", "portions", "feeds", "serve", "serving"))
        serving = serving or bool(re.match(r"(?:serv|portion)", word, re.IGNORECASE))
        rank = 0 if serving else 1 if in_brackets and word else 2 if unit != "x" else 3
        counts.append((rank, value, _clean(word)))
    if not counts:
        if negative:
            return Yield(yield_g=grams, fault="is negative")
        readable = not math.isnan(grams) or any(w in _VOLUME for w in text.lower().split())
        return Yield(yield_g=grams, fault="" if readable else "holds no number")
    _, value, word = min(counts, key=lambda c: c[0])
    found = _checked(value, word, grams, text)
    return Yield(found.servings, found.word, found.yield_g, found.fault, note)


def _value(token: str) -> float:
    word = token.lower()
    return float(_WORDS[word]) if word in _WORDS else read_number(token).value


def _clean(word: str) -> str:
    word = _SIZES.sub("", word.strip(" -'’"))
    words = word.lower().split(" ")
    return "servings" if words[0] in _PEOPLE or words[-1] in _PEOPLE else word


def _checked(servings: float, word: str, grams: float, text: str) -> Yield:
    if not math.isfinite(servings):
        return Yield(yield_g=grams, fault="is not finite")
    if servings <= 0:
        return Yield(yield_g=grams, fault="is zero" if servings == 0 else "is negative")
    if servings > 100_000:
        return Yield(yield_g=grams, fault="is too large to be servings")
    return Yield(servings, word or "servings", grams)


@dataclass(frozen=True, slots=True)
class ServingSize:
    """What "serving size" says: a basis of its own, a weight, or a count of pieces."""

    basis: str = ""
    grams: float = NAN
    pieces: float = NAN
    word: str = ""
    volume: bool = False


def read_serving_size(value: object) -> ServingSize:
    """Read schema.org ``servingSize``: "1 serving", "100 g", "2 cookies", "1 slice (85 g)"."""
    if value is None or isinstance(value, (bool, dict, list)):
        return ServingSize()
    text = " ".join(str(value).split())[:200].lower()
    if re.fullmatch(r"(?:per\s+)?100\s*(?:g|gr|grams?|grammes?|ml|millilit(?:er|re)s?)\.?", text):
        return ServingSize("per_100g", 100.0, volume="m" in text.replace("gram", ""))
    if re.search(r"\b(?:whole|entire|full)\b|^(?:the |1 |per )?(?:recipe|batch)$", text):
        return ServingSize("per_recipe")
    weight = re.search(rf"({NUMBER})\s*(g|gr|grams?|grammes?|oz|ounces?)\b", text)
    grams = NAN
    if weight:
        grams = read_number(weight[1]).value * (_GRAMS.get(weight[2]) or 1.0)
    count = re.match(rf"(?:per\s+)?({NUMBER})\s+([^\W\d_]+)", text)
    if count and count[2] not in _GRAMS and count[2] not in _VOLUME:
        return ServingSize("per_serving", grams, read_number(count[1]).value, count[2])
    return ServingSize("per_serving", grams)


def same_thing(one: str, other: str) -> bool:
    """True when two serving words name the same piece ("cookie", "cookies")."""

    def stem(word: str) -> str:
        word = word.lower().strip().rstrip("s")
        return f"{word[:-2]}y" if word.endswith("ie") else word

    last = other.split(" ")[-1] if other else ""
    return bool(one) and stem(one) == stem(last)
