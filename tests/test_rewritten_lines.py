"""A line written in another form is the same food and weight.

No truth is asked: each line of the labelled sets is held against itself, rewritten as other people
write (the amount behind the food, capitals, bullets, footnotes, units spelled out). What is left
open is where the order says more: "carrots, peeled - 100 g" may be weighed peeled.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pipeline.reading import Read, Tools, load_tools, read_lines
from pipeline.snapshot import Snapshot

LINES = sorted((Path(__file__).parents[1] / "benchmarks" / "data").glob("lines_*.csv"))
#: Units of lines, and other ways to write them.
UNITS = {
    "g": ("grams", "gr"), "kg": ("kilo", "Kg"), "ml": ("mL", "millilitres"), "oz": ("ounces", "oz."),
    "lb": ("pound", "lbs"), "tbsp": ("Tbsp.", "tablespoon"), "tsp": ("Tsp", "teaspoon"),
    "cup": ("c.", "Cup"), "cups": ("cup", "c"),
}  # fmt: skip

#: The line rewritten as a whole, and the share of lines that have to stay what they are.
WHOLE: dict[str, tuple[Callable[[str], str], float]] = {
    "capitals": (str.upper, 0.995),
    "a bullet": (lambda line: f"• {line}", 1.0),
    "a box to tick": (lambda line: f"[ ] {line}", 1.0),
    "pictures": (lambda line: f"🥄 {line} ✨", 1.0),
    "a footnote": (lambda line: f"{line} [1]", 1.0),
    "a star": (lambda line: f"{line}*", 1.0),
    "optional": (lambda line: f"{line} (optional)", 1.0),
    "a tip": (lambda line: f"{line} (see note)", 1.0),
    "wide spaces": (lambda line: line.replace(" ", "\u00a0"), 0.99),
    "a note in brackets": (lambda line: re.sub(r", ([^,()]+)$", r" (\1)", line), 1.0),
    "a label": (lambda line: f"Ingredient: {line}", 0.94),
    "then": (lambda line: f"then {line}", 0.99),
    "and": (lambda line: f"and {line}", 0.99),
    "add": (lambda line: f"Add {line}", 0.99),
    "roughly": (lambda line: f"ca. {line}", 0.99),
    "optional in front": (lambda line: f"(optional) {line}", 0.99),
    "what it costs": (lambda line: f"{line} £1.20", 1.0),
    "its macronutrients": (lambda line: f"{line} (12P 3C 4F)", 0.99),
    "its energy": (lambda line: f"{line} = 120 kcal", 1.0),
    "its energy and protein": (lambda line: f"{line} – 24 g protein, 130 kcal", 0.99),
    "a maker": (lambda line: f"{line}, e.g. Hilltop", 0.97),
    "tags": (lambda line: f"{line} #easy #glutenfree", 1.0),
    "a diet": (lambda line: f"{line} (GF)", 0.98),  # flour, pasta and rolls are others then
    "in italics": (lambda line: f"_{line}_", 0.99),
    "shouted": (lambda line: f"{line}!!", 1.0),
    "a semicolon": (lambda line: line.replace(", ", "; "), 0.99),
}
#: The amount and what stands behind it in another order.
APART: dict[str, tuple[str, float]] = {
    "a dash": ("{rest} – {amount}", 0.96),
    "a colon": ("{rest}: {amount}", 0.94),
    "brackets": ("{rest} ({amount})", 0.96),
    "a comma": ("{rest}, {amount}", 0.96),
    "columns": ("{rest}\t{amount}", 0.93),
    "dots": ("{rest} ...... {amount}", 0.94),
    "roughly": ("{amount} approx. {rest}", 0.97),
    "of": ("{amount} of {rest}", 0.99),
    "a bar": ("{amount} | {rest}", 0.99),
}


@pytest.fixture(scope="module")
def read(snapshot: Snapshot) -> Callable[[list[str]], list[Read]]:
    tools: Tools = load_tools(snapshot)
    return lambda texts: read_lines(texts, tools)


def lines(every: int) -> list[str]:
    return [row["line"] for path in LINES for row in csv.DictReader(path.open())][::every]


def same(one: Read, other: Read) -> bool:
    grams = one.weight.grams, other.weight.grams
    if None in grams:
        return one.match.food_id == other.match.food_id and grams == (None, None)
    return one.match.food_id == other.match.food_id and grams[1] == pytest.approx(
        grams[0], rel=0.02
    )


def held(
    read: Callable[[list[str]], list[Read]], pairs: list[tuple[str, str]], least: float
) -> None:
    """So many of the rewritten lines are what they were."""
    assert pairs
    before, after = read([a for a, _ in pairs]), read([b for _, b in pairs])
    other = [pair for pair, a, b in zip(pairs, before, after, strict=True) if not same(a, b)]
    assert 1 - len(other) / len(pairs) >= least, other[:20]


def parted(
    read: Callable[[list[str]], list[Read]], texts: list[str]
) -> Iterator[tuple[str, str, str]]:
    """Each line that begins with its only amount, the amount, and what stands behind it."""
    for text, line in zip(texts, read(texts), strict=True):
        measures = line.parsed.measures
        if line.match.food_id and line.weight.grams and len(measures) == 1 and not line.parsed.plus:
            first, end = measures[0].of_text
            amount, rest = text[:end].strip(), text[end:].strip().removeprefix("of ")
            if not first and rest[:1].isalpha() and "(" not in amount and not rest.startswith("x "):
                yield text, amount, rest


@pytest.mark.parametrize("every", [7, pytest.param(1, marks=pytest.mark.soak)])
@pytest.mark.parametrize("form", WHOLE)
def test_a_line_dressed_otherwise_is_the_same(read, form: str, every: int) -> None:
    rewrite, least = WHOLE[form]
    held(read, [(text, rewrite(text)) for text in lines(every)], least)


@pytest.mark.parametrize("every", [7, pytest.param(1, marks=pytest.mark.soak)])
@pytest.mark.parametrize("form", APART)
def test_the_amount_may_stand_elsewhere(read, form: str, every: int) -> None:
    order, least = APART[form]
    pairs = [
        (text, order.format(amount=amount, rest=rest))
        for text, amount, rest in parted(read, lines(every))
    ]
    held(read, pairs, least)


def slips(text: str, turned: bool) -> str:
    """A text with a letter left out of one of its long words, or two turned round."""
    long = list(re.finditer(r"[a-z]{7,}", text))
    if not long:
        return text
    word = long[len(text) % len(long)]
    at = word.start() + 2 + len(text) % (len(word[0]) - 4)
    return text[:at] + (text[at + 1] + text[at] if turned else text[at + 1]) + text[at + 2 :]


@pytest.mark.parametrize("every", [5, pytest.param(1, marks=pytest.mark.soak)])
@pytest.mark.parametrize("turned", [False, True])
def test_a_slip_of_the_fingers_costs_a_line_seldom(read, turned: bool, every: int) -> None:
    pairs = [(text, slips(text, turned)) for text in lines(every)]
    held(read, [(text, slip) for text, slip in pairs if text != slip], 0.92)


def test_a_slip_put_right_leaves_the_rest_of_its_line_as_written(read) -> None:
    slip, right, small = read(["1 T oil, draned", "1 T oil, drained", "1 t oil, drained"])
    assert slip.weight.grams == right.weight.grams != small.weight.grams


def test_how_often_may_stand_at_the_end(read) -> None:
    pairs = [
        (text, f"{rest} {times}{amount}")
        for at, (text, amount, rest) in enumerate(parted(read, lines(1)))
        if amount.isdecimal() and 1 < int(amount) < 10
        for times in [("x", "x ", "× ")[at % 3]]
    ]
    held(read, pairs, 0.98)


def test_units_are_written_in_many_ways(read) -> None:
    pairs = []
    for text in lines(1):
        found = re.match(r"(\d+(?:\.\d+)?)\s?([a-z]+)\b", text)
        for unit in UNITS.get(found[2], ()) if found else ():
            pairs.append((text, f"{found[1]} {unit}{text[found.end() :]}"))
    held(read, pairs, 1.0)
