"""Corrected numbers in text cards and Markdown, each in the line that states it."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping

from pipeline.intake.building import judged_basis
from pipeline.intake.files import SourceFile
from pipeline.intake.model import RawRecipe, RawStated
from pipeline.intake.reading import read_file, read_text
from pipeline.intake.spoken.words import in_figures
from pipeline.intake.text.markdown import front_matter
from pipeline.publish.numbers import Left, Original, Wanted
from pipeline.publish.restate import LABELS, listed, restate_line, shown, stated_sentence, with_unit
from pipeline.publish.yaml_text import apply_edits, yaml_edits


def edit_card(original: Original, wanted: Wanted) -> bytes:
    """Numbers in their lines; what was not stated joins the last stated line, or a new one."""
    text = original.text
    path, source = original.path, original.source
    read = read_file(SourceFile(path, source, named=True)) if path.exists() else None
    recipes = (read or read_text(text, source)).recipes
    lines = text.split("\n")
    matter = front_matter(text)
    front = text.count("\n", 0, matter[2]) if matter else 0
    new_lines: list[tuple[int, str]] = []
    yaml_wanted: dict[int, Mapping[str, float]] = {}
    of_several = Counter(no for recipe in recipes for no in {s.source_line for s in recipe.stated})
    for recipe in recipes:
        values = wanted.get(recipe.position)
        if values is None:
            continue
        if recipe.stated and recipe.stated[0].source_line and recipe.stated[0].source_line <= front:
            yaml_wanted[recipe.position] = values
            continue
        left = Left(values)
        _in_figures(recipe, lines)
        for one in recipe.stated:
            if one.source_line and of_several[one.source_line] > 1 and one.nutrient in left:
                _edit_number(one, one.source_line - 1, left, lines)
        _edit_recipe(recipe, left, lines, new_lines)
    for at, new in sorted(new_lines, reverse=True):
        lines[at:at] = new.split("\n")
    edited = "\n".join(lines)
    if yaml_wanted and matter:
        begin, end, _ = matter
        edited = apply_edits(edited, yaml_edits(edited[begin:end], yaml_wanted, offset=begin))
    return edited.encode("utf-8")


def _in_figures(recipe: RawRecipe, lines: list[str]) -> None:
    """Lines that write the recipe's numbers in words, which are read as figures, with those figures."""
    for stated in recipe.stated:
        at = (stated.source_line or 0) - 1
        if at >= 0 and stated.text not in lines[at] and stated.text in in_figures(lines[at]):
            lines[at] = in_figures(lines[at])


def _edit_number(stated: RawStated, at: int, left: Left, lines: list[str]) -> None:
    """One number of a line that states numbers of several recipes, where its words stand once."""
    line, here = lines[at], {stated.nutrient: left.pop(stated.nutrient)}
    said = stated.text
    if line.count(said) != 1:
        said = next(iter(_FIGURE.findall(said)), "")
    start = line.find(said)
    if said and len(re.findall(rf"(?<![\d.,]){re.escape(said)}(?!\d)", line)) == 1:
        new = restate_line(said, here)[0] if said == stated.text else shown(here[stated.nutrient])
        lines[at] = line[:start] + new + line[start + len(said) :]


_FIGURE = re.compile(r"\d+(?:[.,]\d+)?")


def _edit_recipe(
    recipe: RawRecipe, left: Left, lines: list[str], new_lines: list[tuple[int, str]]
) -> None:
    basis = judged_basis(recipe.stated)
    stated_at = sorted(
        {_line_of(s, lines) for s in recipe.stated if s.source_line and s.basis == basis}
    )
    _edit_totals(recipe, left, lines, set(stated_at))
    last = 0
    for no in stated_at:
        before = len(left)
        lines[no - 1] = left.line(lines[no - 1])
        if len(left) < before:
            last = no
    if not left:
        return
    if last:
        tail = lines[last - 1]
        if tail.lstrip().startswith("|"):
            row = "".join(f"\n| {_label(t)} | {with_unit(v, t)} |" for t, v in left.items())
            new_lines.append((last, row[1:]))
        elif len(stated_at) > 2:  # one number per line
            bullet = re.match(r"\s*(?:[-*•]\s+)?", tail)
            lead = bullet[0] if bullet else ""
            rows = (f"{lead}{_label(t)}: {with_unit(v, t)}" for t, v in left.items())
            new_lines.append((last, "\n".join(rows)))
        else:
            stop = "." if tail.rstrip().endswith(".") else ""
            lines[last - 1] = tail.rstrip().removesuffix(".") + ", " + listed(left) + stop
        return
    after = max((one.source_line or 0 for one in recipe.lines), default=0)
    after = after or recipe.source_line or len(lines)
    new_lines.append((after, "\n" + stated_sentence(left, basis)))


def _edit_totals(recipe: RawRecipe, left: Left, lines: list[str], others: set[int]) -> None:
    """The numbers of the whole, in lines of their own beside those of a serving: servings times these."""
    if judged_basis(recipe.stated) != "per_serving" or math.isnan(recipe.servings):
        return
    whole = {tag: value * recipe.servings for tag, value in left.items()}
    told = (s for s in recipe.stated if s.source_line and s.basis == "per_recipe")
    for no in {_line_of(one, lines) for one in told} - others:
        lines[no - 1] = restate_line(lines[no - 1], whole)[0]


#: Lines that a sentence of stated numbers takes, at most.
_SENTENCE = 6


def _line_of(stated: RawStated, lines: list[str]) -> int:
    """The line in which a number stands: that of its sentence, or one of those it goes on in."""
    first = stated.source_line or 1
    sentence = lines[first - 1 : first - 1 + _SENTENCE]
    return first + next((at for at, line in enumerate(sentence) if stated.text in line), 0)


def _label(tag: str) -> str:
    return LABELS.get(tag, tag).capitalize()
