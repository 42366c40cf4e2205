"""Lists of the numbers of several recipes in a text: "Mild chilli - 420 kcal, 34 g protein", a row each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.intake.by_content import may_be_title
from pipeline.intake.columns import nutrient_column
from pipeline.intake.facts_line import titled_yield
from pipeline.intake.model import RawRecipe
from pipeline.intake.numbers import Roles
from pipeline.intake.pages.schema_org import read_nutrition_text, set_yield
from pipeline.intake.stated_line import all_found, read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import BULLET, MAYBE_STATED, looks_like_ingredient

#: Rows of a list that stand one below the other, at least.
_LEAST_ROWS = 2
_SIGNS = re.compile(r"[\s:;,|/·–—=~≈(\[-]+$")
_MAX_TITLE = 80


@dataclass(frozen=True, slots=True)
class NumberList:
    """Lines ``begin`` to ``end`` of a text, the heading above them included, and the recipe without
    lines that each row of them is."""

    begin: int
    end: int
    rows: list[RawRecipe]


def number_lists(lines: Sequence[CardLine], format: str) -> list[NumberList]:
    """The lists of a text whose rows each name a dish, on their line or above it, and its numbers."""
    if not any(MAYBE_STATED.search(line.text) for line in lines):
        return []
    filled = [at for at, line in enumerate(lines) if line.text.strip()]
    rows: list[tuple[int, int, RawRecipe]] = []  # first and last of the filled lines of each
    energies = _energies(lines, filled)
    for k, at in enumerate(filled):
        if (bare := energies.get(at)) is not None:
            rows.append((k, k, bare))
            continue
        above = lines[filled[k - 1]] if k else None
        begun = bool(rows) and rows[-1][1] == k - 1
        if row := _row(lines[at], None if begun else above, format):
            rows.append((k - (row.source_line != lines[at].no), k, row))
        elif begun and _goes_on(lines[at].text):
            first, _, row = rows[-1]
            read_nutrition_text(row, lines[at].text, lines[at].no)
            rows[-1] = (first, k, row)
    found: list[NumberList] = []
    run: list[tuple[int, int, RawRecipe]] = []
    for one in [*rows, None]:
        if one is not None and (not run or run[-1][1] + 1 == one[0]):
            run.append(one)
            continue
        if len(run) >= _LEAST_ROWS:
            first, last = run[0][0], run[-1][1]
            above = lines[filled[first - 1]] if first else CardLine(0, "")
            begin = filled[first - 1] if above.level else filled[first]
            found.append(NumberList(begin, filled[last] + 1, _for_what(run, above.text)))
        run = [one] if one is not None else []
    return found


#: A number in a column of its own behind the name: "Crumb bars, 16, calories 271".
_COUNTED = re.compile(r"(?<=\S)\s*[,|;\t]\s*\d{1,3}\s*[,|;\t]\s*$")
#: A name and a number at the end of its line: "Quay chilli ...... 420".
_BARE = re.compile(r"(?P<title>.*?[^\W\d_]\)?)(?:\s{2,}|\s*[.:=\t–—-]+\s*)(?P<kcal>\d{2,4})\s*")


def _energies(lines: Sequence[CardLine], filled: Sequence[int]) -> dict[int, RawRecipe]:
    """The rows of lists of bare numbers below a line that says that they are energies, by their line."""
    found: dict[int, RawRecipe] = {}
    unit = ""
    for at in filled:
        text = lines[at].text.strip()
        row = _BARE.fullmatch(BULLET.sub("", text)) if unit else None
        if row and _names(row["title"]):
            made = RawRecipe(
                row["title"].strip(), "", 0, source_line=lines[at].no, basis_said=False
            )
            read_nutrition_text(made, f"{row['kcal']} {unit}", lines[at].no)
            found[at] = made
        elif text.strip(" -=|"):
            said = Roles(text) if len(text) <= _MAX_TITLE else None
            energy = said and not said.search("number") and said.search("energy | energy_unit")
            unit = ("kJ" if re.search(r"\bkj\b", text, re.I) else "kcal") if energy else ""
    return found


def _for_what(run: Sequence[tuple[int, int, RawRecipe]], above: str) -> list[RawRecipe]:
    """The recipes of a list, their numbers for what the line above it says, where they say nothing."""
    basis = read_stated_line(above).basis or read_stated_line(f"{above.rstrip(': ')}:").basis
    for _, _, row in run:
        if basis is not None and not row.basis_said:
            row.stated = [replace(one, basis=basis) for one in row.stated]
        row.basis_said = row.basis_said or basis is not None
    return [row for _, _, row in run]


def _row(line: CardLine, above: CardLine | None, format: str) -> RawRecipe | None:
    """The dish and the numbers of a line, or of it and the line above it; None for any other line."""
    text = BULLET.sub("", line.text.strip())
    found = all_found(text) if MAYBE_STATED.search(text) else []
    if not found:
        return None
    begin = min(one.span[0] for one in found)
    named, numbers, at = _COUNTED.sub("", text[:begin]), text[begin:], line
    read = read_stated_line(text)
    if not _names(named):
        if above is None or not read.certain:
            return None
        named, numbers, at = above.text, text, above
    elif not read_stated_line(numbers).certain:
        return None
    title, told = titled_yield(_SIGNS.sub("", BULLET.sub("", named.strip())))
    if not _names(title):
        return None
    row = RawRecipe(title, format, 0, source_line=at.no)
    read_nutrition_text(row, numbers, line.no)
    row.basis_said = read.basis is not None
    if told:
        set_yield(row, told, at.no)
    return row if row.stated else None


def _goes_on(text: str) -> bool:
    """Whether a line only states more numbers of the row above it: "- Protein: 34 g"."""
    text = BULLET.sub("", text.strip())
    read = read_stated_line(text) if MAYBE_STATED.search(text) else None
    return read is not None and read.possible and not read.strange


def _names(text: str) -> bool:
    """Whether a text may name a dish: no amount of food, nor what numbers are for."""
    text = _SIGNS.sub("", text.strip())
    said = read_stated_line(f"{text}: 1 kcal")
    return (
        len(text) <= _MAX_TITLE
        and may_be_title(text)
        and nutrient_column(text) is None
        and said.basis is None
        and not read_stated_line(text).heading
        and not looks_like_ingredient(BULLET.sub("", text))
    )
