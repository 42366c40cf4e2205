"""Copies of recipe files with corrected numbers, each format in its own place.

Originals are never opened for writing. Every copy is read back: a number that did not arrive is a
problem, not a silent loss.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake import documents
from pipeline.intake.building import STDIN
from pipeline.intake.collect import Collection
from pipeline.intake.files import SourceFile
from pipeline.intake.model import RawRecipe, RefusedError
from pipeline.intake.reading import read_file
from pipeline.nutrients import BY_TAG
from pipeline.problems import Problem, input_problem
from pipeline.publish import document_cards
from pipeline.publish.card_text import edit_card
from pipeline.publish.numbers import NotWritableError, Original, Wanted, numbers_in
from pipeline.publish.page import edit_page
from pipeline.publish.restate import shown
from pipeline.publish.sheet import edit_sheet
from pipeline.publish.table_cells import edit_csv, edit_parquet
from pipeline.publish.tree import edit_json
from pipeline.publish.write import Made
from pipeline.publish.yaml_text import edit_xml, edit_yaml

if TYPE_CHECKING:
    import pandas as pd


def write_corrected(collection: Collection, corrected: pd.DataFrame, out_dir: Path) -> Made:
    """Write copies of the recipe files with corrected nutrition under ``out_dir``.

    Args:
        collection: as read; its files must still be where they were.
        corrected: one row per recipe: ``recipe_id`` and one column per nutrient (``kcal``,
            ``protein_g`` ..., also ``net_carbs_g``), on the basis the recipe states its numbers
            on (per serving when it states none). NaN leaves a number as it is. Numbers are
            written as given, to at most two decimals: round before.
        out_dir: made when missing; each file keeps its place below it. Never the collection's
            own folder.

    Returns:
        The paths written, in the order of the files; only files with a corrected recipe are.
    """
    copies = Made()
    out_dir = Path(out_dir).absolute()
    now = collection.recipe
    place = {
        str(i): (str(source), int(position))
        for i, source, position in zip(
            now["recipe_id"], now["source"], now["position"], strict=True
        )
    }
    titles = dict(zip(now["recipe_id"], now["title"], strict=True))
    by_source: dict[str, dict[int, dict[str, float]]] = {}
    for row in corrected.to_dict("records"):
        values, where = numbers_in(row), collection.stated_at.get(str(row["recipe_id"]))
        if values and where:
            copies.problems.append(_to_correct(titles, str(row["recipe_id"]), where, values))
        elif values and str(row["recipe_id"]) in place:
            source, position = place[str(row["recipe_id"])]
            by_source.setdefault(source, {})[position] = values
    for source in dict.fromkeys(collection.recipe["source"]):
        if source in by_source:
            problem = _write_one(collection, source, by_source[source], out_dir, copies)
            copies.problems += [problem] if problem else []
    return copies


def _to_correct(
    titles: Mapping[str, str], recipe_id: str, where: str, values: Mapping[str, float]
) -> Problem:
    """What a person has to correct where the numbers of a recipe stand in another file."""
    said = ", ".join(f"{_label(tag)} {shown(value)}" for tag, value in values.items())
    title = titles.get(recipe_id) or recipe_id
    told = partial(input_problem, recipe_id=recipe_id, title=title)
    return told("correction-elsewhere", where=where, numbers=said)


def _label(tag: str) -> str:
    return BY_TAG[tag].label if tag in BY_TAG else "net carbohydrate"


def _write_one(
    collection: Collection, source: str, wanted: Wanted, out_dir: Path, copies: Made
) -> Problem | None:
    """Write one copy, or say why it could not be written."""
    format = str(collection.recipe.loc[collection.recipe["source"] == source, "format"].iloc[0])
    name = "stdin" if source == STDIN else source
    notes: list[Problem] = []
    if format in documents.FORMATS:
        target = document_cards.card_file(collection, name, out_dir)
        made = document_cards.corrected_cards(collection, source, wanted).encode("utf-8")
        notes = [document_cards.note_of(source, target, len(wanted))]
        wanted = dict(enumerate(wanted[position] for position in sorted(wanted)))
    else:
        target = out_dir / (f"stdin{_ENDINGS.get(format, '.txt')}" if source == STDIN else source)
        copy = _copy(collection, source, format, wanted, target, out_dir)
        if isinstance(copy, Problem):
            return copy
        made = copy
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(made)
    except OSError as fault:
        said, kind = fault.strerror or str(fault), "card" if notes else "copy"
        return input_problem("copy-not-written/save", source=source, kind=kind, said=said)
    read = read_file(SourceFile(target, source, named=True)).recipes
    ids = collection.recipe.loc[collection.recipe["source"] == source, "recipe_id"]
    texts = collection.line.loc[collection.line["recipe_id"].isin(ids), "text"].tolist()
    if not notes and [one.text for recipe in read for one in recipe.lines] != texts:
        target.unlink()
        said = "its ingredients would not read as before"
        return input_problem("copy-not-written", source=source, said=said)
    copies.paths.append(target)
    copies.recipes += ids.tolist()
    copies.problems += [*notes, *_not_stated(read, source, wanted)]
    return None


def _copy(
    collection: Collection, source: str, format: str, wanted: Wanted, target: Path, out_dir: Path
) -> bytes | Problem:
    """A file with other numbers in it, or why there is none."""
    data = collection.stdin.encode("utf-8", "replace")
    path = target
    if source != STDIN:
        path = collection.files[source]
        same = os.path.realpath(target) == os.path.realpath(path)
        if same or not target.resolve().is_relative_to(out_dir.resolve()):
            return input_problem("copy-on-original", source=source)
        try:
            data = path.read_bytes()
        except OSError as fault:
            said = fault.strerror or str(fault)
            return input_problem("file-unreadable/again", source=source, said=said)
    try:
        return _WRITERS[format](Original(data, path, source), wanted)
    except (NotWritableError, RefusedError) as fault:  # refused: another file than was read
        return input_problem("copy-not-written", source=source, said=fault)


def _not_stated(recipes: Sequence[RawRecipe], source: str, wanted: Wanted) -> list[Problem]:
    """Numbers that the copy does not state although they were written into it."""
    found = {recipe.position: recipe for recipe in recipes}
    problems = []
    for position, values in wanted.items():
        recipe = found.get(position)
        stated = {s.nutrient: s for s in recipe.stated} if recipe is not None else {}
        for tag, value in values.items():
            one = stated.get(tag)
            allowed = max(0.006, one.step if one is not None else 0.0)
            if one is None or abs(one.amount - value) > allowed:
                label = _label(tag)
                at = recipe.source_line if recipe is not None else None
                told = partial(input_problem, source=source, source_line=at, label=label)
                problems.append(told("correction-not-written", number=shown(value)))
    return problems


def _script(original: Original, wanted: Wanted) -> bytes:
    raise NotWritableError("a spoken script has no place for numbers; write it as cards first")


_WRITERS: dict[str, Callable[[Original, Wanted], bytes]] = {
    "json-ld": edit_json, "json": edit_json, "html": edit_page, "yaml": edit_yaml,
    "card": edit_card, "markdown": edit_card, "csv": edit_csv, "parquet": edit_parquet,
    "xlsx": edit_sheet, "script": _script, "xml": edit_xml,
}  # fmt: skip
#: Ending of the copy of what came by standard input.
_ENDINGS = {
    "json-ld": ".json", "json": ".json", "html": ".html", "yaml": ".yaml", "csv": ".csv",
    "markdown": ".md", "xml": ".xml",
}  # fmt: skip
