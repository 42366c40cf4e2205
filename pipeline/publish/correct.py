"""Copies of recipe files with corrected numbers, each format in its own place.

Originals are never opened for writing. Every copy is read back: a number that did not arrive is a
problem, not a silent loss.
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.intake.collect import STDIN, Collection, read_file
from pipeline.intake.columns import nutrient_column
from pipeline.intake.files import SourceFile, decode
from pipeline.intake.model import RawRecipe, cut
from pipeline.intake.pages import schema_org
from pipeline.intake.structured import own_form, yaml_tree
from pipeline.intake.structured.documents import loads
from pipeline.intake.tables import table
from pipeline.nutrients import BY_COLUMN, BY_TAG, NET_CARBS_TAG
from pipeline.problems import Problem
from pipeline.publish.restate import (
    listed,
    restate_amount,
    restate_line,
    shown,
    stated_sentence,
    with_unit,
    written_value,
)

if TYPE_CHECKING:
    import pandas as pd

NET_CARBS_COLUMN = "net_carbs_g"
#: Position of a recipe in its file to the numbers it should state, by tag.
Wanted = Mapping[int, Mapping[str, float]]


@dataclass(slots=True)
class Copies:
    """The files written, and what could not be."""

    paths: list[Path] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def write_corrected(collection: Collection, corrected: pd.DataFrame, out_dir: Path) -> Copies:
    """Write copies of the recipe files with corrected nutrition under ``out_dir``.

    Args:
        collection: as read; its files must still be where they were.
        corrected: one row a recipe: ``recipe_id`` and a column a nutrient (``kcal``,
            ``protein_g`` ..., also ``net_carbs_g``), on the basis the recipe states its numbers
            on (per serving when it states none). NaN leaves a number as it is. Numbers are
            written as given, to at most two decimals: round before.
        out_dir: made when missing; each file keeps its place below it. Never the collection's
            own folder.

    Returns:
        The paths written, in the order of the files; only files with a corrected recipe are.
    """
    copies = Copies()
    out_dir = Path(out_dir).absolute()
    now = collection.recipe
    place = {
        str(i): (str(source), int(position))
        for i, source, position in zip(
            now["recipe_id"], now["source"], now["position"], strict=True
        )
    }
    by_source: dict[str, dict[int, dict[str, float]]] = {}
    columns = [c for c in corrected.columns if c in BY_COLUMN or c == NET_CARBS_COLUMN]
    for row in corrected.to_dict("records"):
        recipe_id = row["recipe_id"]
        if str(recipe_id) not in place:
            continue
        values = {
            _tag(c): float(row[c])
            for c in columns
            if row[c] is not None and math.isfinite(float(row[c]))
        }
        if values:
            source, position = place[str(recipe_id)]
            by_source.setdefault(source, {})[position] = values
    for source in dict.fromkeys(collection.recipe["source"]):
        if source in by_source:
            _write_one(collection, source, by_source[source], out_dir, copies)
    return copies


def _tag(column: str) -> str:
    return NET_CARBS_TAG if column == NET_CARBS_COLUMN else BY_COLUMN[column].tag


def _write_one(
    collection: Collection, source: str, wanted: Wanted, out_dir: Path, copies: Copies
) -> None:
    rows = collection.recipe[collection.recipe["source"] == source]
    format = str(rows["format"].iloc[0])
    if source == STDIN:
        ending = {"json-ld": ".json", "json": ".json", "html": ".html", "yaml": ".yaml",
                  "csv": ".csv", "markdown": ".md"}.get(format, ".txt")  # fmt: skip
        target, data = out_dir / f"stdin{ending}", collection.stdin.encode("utf-8", "replace")
        path = target
    else:
        path = collection.files[source]
        target = out_dir / source
        if os.path.realpath(target) == os.path.realpath(
            path
        ) or not target.resolve().is_relative_to(out_dir.resolve()):
            copies.problems.append(
                Problem(
                    "copy-on-original",
                    f'the corrected copy of "{source}" would replace the original',
                    "originals are never touched; it was not written",
                    "name another folder for the copies",
                    source=source,
                )
            )
            return
        try:
            data = path.read_bytes()
        except OSError as fault:
            copies.problems.append(
                Problem(
                    "file-unreadable",
                    f'"{source}" cannot be opened again',
                    fault.strerror or str(fault),
                    "leave the files in place until the run is over",
                    source=source,
                )
            )
            return
    try:
        made = _WRITERS[format](data, path, source, wanted)
    except _NotWritableError as fault:
        copies.problems.append(
            Problem(
                "copy-not-written",
                f'no corrected copy of "{source}" could be written',
                str(fault),
                "put the numbers in by hand: they are in the report",
                source=source,
            )
        )
        return
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(made)
    except OSError as fault:
        copies.problems.append(
            Problem(
                "copy-not-written",
                f'the corrected copy of "{source}" cannot be saved',
                fault.strerror or str(fault),
                "name a folder you may write to",
                source=source,
            )
        )
        return
    copies.paths.append(target)
    copies.problems.extend(_read_back(target, source, wanted))


def _read_back(target: Path, source: str, wanted: Wanted) -> list[Problem]:
    """Numbers that the copy does not state although they were written into it."""
    found = {r.position: r for r in read_file(SourceFile(target, source, named=True)).recipes}
    problems = []
    for position, values in wanted.items():
        recipe = found.get(position)
        said = {s.nutrient: s for s in recipe.stated} if recipe is not None else {}
        for tag, value in values.items():
            one = said.get(tag)
            allowed = max(0.006, one.step if one is not None else 0.0)
            if one is None or abs(one.amount - value) > allowed:
                label = BY_TAG[tag].label if tag in BY_TAG else "net carbohydrate"
                problems.append(
                    Problem(
                        "correction-not-written",
                        f"the corrected {label} ({shown(value)}) could not be put into the copy",
                        "the way the file states it is not one that can be changed",
                        "put it in by hand",
                        source=source,
                        source_line=recipe.source_line if recipe is not None else None,
                    )
                )
    return problems


class _NotWritableError(Exception):
    """The format, or this file of it, has no place for the numbers."""


# --- JSON and pages ---------------------------------------------------------------------------


def _json(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    del path
    text = decode(data, source)[0]
    try:
        tree = loads(text)
    except Exception as fault:
        edited = _json_lines(text, wanted)
        if edited is None:
            raise _NotWritableError("the file is no longer JSON") from fault
        return edited.encode("utf-8")
    _edit_tree(tree, wanted, 0)
    return _dumped(tree, text).encode("utf-8")


def _json_lines(text: str, wanted: Wanted) -> str | None:
    out, at = [], 0
    for line in text.split("\n"):
        if not line.strip():
            out.append(line)
            continue
        try:
            tree = loads(line)
        except Exception:
            return None
        at += _edit_tree(tree, wanted, at)
        out.append(_dumped(tree, line))
    return "\n".join(out)


def _edit_tree(tree: Any, wanted: Wanted, first: int) -> int:
    """Set the numbers of the recipes of a JSON tree; returns how many recipes it holds."""
    objects: list[Any] = list(schema_org.recipe_objects(tree))
    if objects:
        nodes = schema_org.by_id(tree)
        for at, node in enumerate(objects, start=first):
            if at in wanted:
                _edit_schema(node, nodes, wanted[at])
        return len(objects)
    objects = list(own_form.own_objects(tree))
    for at, node in enumerate(objects, start=first):
        if at in wanted:
            _edit_own(node, wanted[at])
    return len(objects)


def _edit_schema(
    node: dict[str, Any], nodes: Mapping[str, Any], values: Mapping[str, float]
) -> None:
    prefix = "schema:" if "schema:recipeIngredient" in node else ""
    nutrition = node.get(f"{prefix}nutrition")
    if isinstance(nutrition, list):
        nutrition = next((n for n in nutrition if isinstance(n, dict)), None)
    if isinstance(nutrition, dict) and set(nutrition) <= {"@id", "@type"} and "@id" in nutrition:
        nutrition = nodes.get(str(nutrition["@id"]), nutrition)
    if isinstance(nutrition, str):
        edited, done = _edit_text(nutrition, values)
        node[f"{prefix}nutrition"] = edited
        if done >= set(values):
            return
        nutrition = None
    if not isinstance(nutrition, dict):
        nutrition = node[f"{prefix}nutrition"] = {"@type": "NutritionInformation"}
    left = dict(values)
    for key, old in list(nutrition.items()):
        known = schema_org.PROPERTIES.get(str(key).rpartition(":")[2])
        if known is None or known[0] not in left:
            continue
        tag, salt = known
        nutrition[key] = _new_value(old, tag, left.pop(tag), salt)
    for tag, value in left.items():
        name = BY_TAG[tag].schema_org if tag in BY_TAG else ""
        if name:
            nutrition[prefix + name] = with_unit(value, tag)


def _new_value(old: Any, tag: str, value: float, salt: bool) -> Any:
    if isinstance(old, (int, float)) and not isinstance(old, bool):
        return _number(written_value(value, tag, "", salt=salt))
    if isinstance(old, str):
        return restate_amount(old, tag, value, salt=salt)
    return with_unit(value, tag)


def _number(value: float) -> int | float:
    rounded = round(value, 2)
    return int(rounded) if rounded.is_integer() else rounded


def _edit_text(text: str, values: Mapping[str, float]) -> tuple[str, set[str]]:
    done: set[str] = set()
    lines = []
    for line in text.split("\n"):
        left = {t: v for t, v in values.items() if t not in done}
        edited, here = restate_line(line, left)
        lines.append(edited)
        done |= here
    return "\n".join(lines), done


def _edit_own(node: dict[str, Any], values: Mapping[str, float]) -> None:
    left = dict(values)
    place: dict[str, Any] | None = None
    for key, old in list(node.items()):
        if own_form.target_of(str(key)) != "stated":
            continue
        for holder, at, one in _places(node, key, old):
            if isinstance(one, str):
                holder[at], done = _edit_text(one, left)
                left = {t: v for t, v in left.items() if t not in done}
            elif isinstance(one, dict):
                place = place if place is not None else one
                _edit_own_mapping(one, left)
    if not left:
        return
    if place is None:
        place = node.setdefault("stated", {})
        if not isinstance(place, dict):
            place = node["nutrition"] = {}
    for tag, value in left.items():
        place[_column(tag)] = _number(value)


def _places(node: dict[str, Any], key: str, old: Any) -> Iterable[tuple[Any, Any, Any]]:
    if isinstance(old, list):
        return [(old, at, one) for at, one in enumerate(old)]
    return [(node, key, old)]


def _edit_own_mapping(stated: dict[str, Any], left: dict[str, float]) -> None:
    done = set()
    for key, old in list(stated.items()):
        if isinstance(old, dict):
            _edit_own_mapping(old, left)
            continue
        column = nutrient_column(str(key))
        if column is None or column.tag not in left:
            continue
        value = left[column.tag]
        if isinstance(old, str) and not _bare(old):
            stated[key] = restate_amount(old, column.tag, value, salt=column.salt)
        else:
            number = written_value(value, column.tag, column.unit, salt=column.salt)
            stated[key] = _number(number) if not isinstance(old, str) else shown(number)
        done.add(column.tag)
    for tag in done:
        left.pop(tag, None)


def _bare(text: str) -> bool:
    return re.fullmatch(r"[\d.,\s]*", text) is not None


def _column(tag: str) -> str:
    return NET_CARBS_COLUMN if tag == NET_CARBS_TAG else BY_TAG[tag].column


def _dumped(tree: Any, like: str) -> str:
    """JSON in the manner of the text it came from: indentation, escapes, last line break."""
    indent = re.search(r"\n([ \t]+)\S", like)
    ascii_only = like.isascii() and "\\u" in like
    step: str | None = indent[1] if indent else None
    spaced = '": ' in like or '":' not in like
    made = json.dumps(
        tree, ensure_ascii=ascii_only, indent=step,
        separators=(",", ": ") if step else ((", ", ": ") if spaced else (",", ":")),
    )  # fmt: skip
    return made + ("\n" if like.endswith("\n") else "")


def _page(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    del path
    from pipeline.publish.page import edit_page

    text, problems = decode(data, source)
    edited = edit_page(text, lambda tree, first: _edit_tree(tree, wanted, first), _dumped, wanted)
    if edited is None:
        raise _NotWritableError("its numbers stand in the page in a way that cannot be changed")
    if problems:  # the copy is UTF-8, whatever the original was
        edited = re.sub(r"(<meta[^>]*charset\s*=\s*[\"']?)[\w.:-]+", r"\1utf-8", edited, count=1,
                        flags=re.IGNORECASE)  # fmt: skip
    return edited.encode("utf-8")


# --- YAML -------------------------------------------------------------------------------------

Edit = tuple[int, int, str]


def _yaml(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    del path
    text = decode(data, source)[0]
    return apply_edits(text, yaml_edits(text, wanted)).encode("utf-8")


def yaml_edits(text: str, wanted: Wanted, offset: int = 0) -> list[Edit]:
    """Replacements that put the numbers into a YAML text; comments and layout stay."""
    edits: list[Edit] = []
    position = 0
    try:
        documents = yaml_tree.load_documents(text)
    except yaml_tree.YamlRefusedError as fault:
        raise _NotWritableError(fault.what) from fault
    for document in documents:
        found = [(n, True) for n in schema_org.recipe_objects(document)]
        if not found:
            found = [(dict_, False) for dict_ in own_form.own_objects(document)]  # type: ignore[misc]
        for node, schema in found:
            if position in wanted and isinstance(node, yaml_tree.Mapping):
                edits.extend(_yaml_node(text, node, dict(wanted[position]), schema))
            position += 1
    return [(start + offset, end + offset, new) for start, end, new in edits]


def _yaml_node(
    text: str, node: yaml_tree.Mapping, left: dict[str, float], schema: bool
) -> list[Edit]:
    edits: list[Edit] = []
    places: list[yaml_tree.Mapping] = []
    for key, value in node.items():
        if own_form.target_of(key) == "stated":
            _yaml_value(text, value, left, edits, places)
    flat = 0 if places or edits else _yaml_amounts(text, own_form.flat_numbers(node), left, edits)
    if not left:
        return edits

    def entry(tag: str) -> str:
        if schema and tag in BY_TAG and BY_TAG[tag].schema_org:
            return f"{BY_TAG[tag].schema_org}: {with_unit(left[tag], tag)}"
        return f"{_column(tag)}: {shown(left[tag])}"

    if places:
        place = places[0]
        last = max((v.end for v in place.values() if isinstance(v, yaml_tree.Text)), default=0)
        if last and place.flow:
            edits.append((last, last, "".join(f", {entry(t)}" for t in left)))
        elif last:
            first = next(iter(place.key_text.values()))
            margin = " " * _column_of(text, first.start)
            end = _line_end(text, last)
            edits.append((end, end, "".join(f"\n{margin}{entry(t)}" for t in left)))
        return edits
    margin = " " * _column_of(text, next(iter(node.key_text.values())).start)
    if flat and not node.flow:
        end = _line_end(text, flat)
        edits.append((end, end, "".join(f"\n{margin}{entry(t)}" for t in left)))
        return edits
    if node.flow:
        raise _NotWritableError("a recipe in flow style has no place for new numbers")
    end = len(text[: node.end].rstrip())
    block = f"\n{margin}{'nutrition' if schema else 'stated'}:"
    edits.append((end, end, block + "".join(f"\n{margin}  {entry(t)}" for t in left)))
    return edits


def _yaml_value(
    text: str, value: Any, left: dict[str, float], edits: list[Edit],
    places: list[yaml_tree.Mapping],
) -> None:  # fmt: skip
    if isinstance(value, yaml_tree.Text):
        old = text[value.start : value.end]
        new, done = _edit_text(old, left)
        if done:
            edits.append((value.start, value.end, new))
            for tag in done:
                del left[tag]
    elif isinstance(value, list):
        for one in value:
            _yaml_value(text, one, left, edits, places)
    elif isinstance(value, yaml_tree.Mapping):
        nested = [v for v in value.values() if isinstance(v, yaml_tree.Mapping)]
        if not nested or any(nutrient_column(str(k)) for k in value):
            places.append(value)
        for old_value in value.values():
            if isinstance(old_value, yaml_tree.Mapping):
                _yaml_value(text, old_value, left, edits, places)
        _yaml_amounts(text, value, left, edits)


def _yaml_amounts(
    text: str, values: Mapping[str, Any], left: dict[str, float], edits: list[Edit]
) -> int:
    """Restate ``key: amount`` pairs; what they hold leaves ``left``. Returns the end of the last."""
    last = 0
    told: set[str] = set()
    for key, old_value in values.items():
        column = nutrient_column(key)
        if column is None or not isinstance(old_value, yaml_tree.Text):
            continue
        told.add(column.tag)
        last = max(last, old_value.end)
        if column.tag not in left or yaml_tree.is_null(old_value):
            continue
        raw = text[old_value.start : old_value.end]
        number = left[column.tag]
        if _bare(str(old_value)):
            quote = raw[:1] if old_value.quoted else ""
            unit = "kj" if column.unit == "kj" else ""
            plain_value = written_value(number, column.tag, column.unit, salt=column.salt)
            new = f"{quote}{shown(plain_value, unit)}{quote}"
        else:
            new = restate_amount(raw, column.tag, number, salt=column.salt)
        edits.append((old_value.start, old_value.end, new))
    for tag in told:
        left.pop(tag, None)
    return last


def _column_of(text: str, at: int) -> int:
    return at - (text.rfind("\n", 0, at) + 1)


def _line_end(text: str, at: int) -> int:
    end = text.find("\n", at)
    return end if end >= 0 else len(text)


def apply_edits(text: str, edits: Iterable[Edit]) -> str:
    """``text`` with each (start, end) replaced; the later first, so that offsets hold."""
    for start, end, new in sorted(edits, key=lambda e: (e[0], e[1]), reverse=True):
        text = text[:start] + new + text[end:]
    return text


# --- cards and Markdown -----------------------------------------------------------------------


def _text(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    """Numbers in their lines; what was not stated joins the last stated line, or a new one."""
    text = decode(data, source)[0]
    read = read_file(SourceFile(path, source, named=True)) if path.exists() else None
    recipes = read.recipes if read is not None else _reread(text, source)
    lines = text.split("\n")
    front = _front_matter_end(text)
    new_lines: list[tuple[int, str]] = []
    yaml_wanted: dict[int, Mapping[str, float]] = {}
    for recipe in recipes:
        values = wanted.get(recipe.position)
        if values is None:
            continue
        if recipe.stated and recipe.stated[0].source_line and recipe.stated[0].source_line <= front:
            yaml_wanted[recipe.position] = values
            continue
        _edit_card(recipe, dict(values), lines, new_lines)
    for at, new in sorted(new_lines, reverse=True):
        lines[at:at] = new.split("\n")
    edited = "\n".join(lines)
    if yaml_wanted:
        from pipeline.intake.text.markdown import front_matter

        matter = front_matter(edited)
        if matter:
            begin, end, _ = matter
            edits = yaml_edits(edited[begin:end], yaml_wanted, offset=begin)
            edited = apply_edits(edited, edits)
    return edited.encode("utf-8")


def _reread(text: str, source: str) -> list[RawRecipe]:
    from pipeline.intake.collect import read_text

    return read_text(text, source).recipes


def _front_matter_end(text: str) -> int:
    from pipeline.intake.text.markdown import front_matter

    matter = front_matter(text)
    return text.count("\n", 0, matter[2]) if matter else 0


def _edit_card(
    recipe: RawRecipe, left: dict[str, float], lines: list[str], new_lines: list[tuple[int, str]]
) -> None:
    stated_at = sorted({s.source_line for s in recipe.stated if s.source_line})
    last = 0
    for no in stated_at:
        edited, done = restate_line(lines[no - 1], left)
        if done:
            lines[no - 1] = edited
            last = no
            left = {t: v for t, v in left.items() if t not in done}
    if not left:
        return
    if last:
        tail = lines[last - 1]
        if tail.lstrip().startswith("|"):
            row = "".join(f"\n| {_label(t)} | {with_unit(v, t)} |" for t, v in left.items())
            new_lines.append((last, row[1:]))
        elif len(stated_at) > 2:  # a number a line
            bullet = re.match(r"\s*(?:[-*•]\s+)?", tail)
            lead = bullet[0] if bullet else ""
            new_lines.append(
                (last, "\n".join(f"{lead}{_label(t)}: {with_unit(v, t)}" for t, v in left.items()))
            )
        else:
            stop = "." if tail.rstrip().endswith(".") else ""
            lines[last - 1] = tail.rstrip().removesuffix(".") + ", " + listed(left) + stop
        return
    basis = recipe.stated[0].basis if recipe.stated else "per_serving"
    after = max((one.source_line or 0 for one in recipe.lines), default=0)
    after = after or recipe.source_line or len(lines)
    new_lines.append((after, "\n" + stated_sentence(left, basis)))


def _label(tag: str) -> str:
    from pipeline.publish.restate import LABELS

    return LABELS.get(tag, tag).capitalize()


# --- tables -----------------------------------------------------------------------------------

SetCell = Callable[[int, int, Any], None]


def _table_edits(
    header: Sequence[object], rows: Sequence[Sequence[Any]], wanted: Wanted
) -> tuple[list[tuple[int, int, Any]], list[str], list[tuple[int, int, Any]]]:
    """Cells to set (row, column, value), new column names, and their cells by new column."""
    layout = table.layout_of(header)
    if layout is None:
        raise _NotWritableError("its header is no longer known")
    get = table.getter(layout.roles)
    first_row: dict[int, int] = {}
    members: dict[int, list[int]] = {}
    keys: dict[tuple[str, ...], int] = {}
    last: tuple[str, ...] | None = None
    count = 0
    for at, row in enumerate(rows):
        if layout.kind == "wide":
            if not any(c not in (None, "") for c in row):
                continue
            position, count = count, count + 1
        else:
            key = table.recipe_key(get, row, last)
            if key is None:
                continue
            position = keys.setdefault(key, len(keys))
            last = key
        first_row.setdefault(position, at)
        members.setdefault(position, []).append(at)
    cells: list[tuple[int, int, Any]] = []
    new_names: list[str] = []
    new_cells: list[tuple[int, int, Any]] = []
    for position, values in wanted.items():
        left = dict(values)
        for at, column in layout.nutrients.items():
            if column.tag not in values:
                continue
            number = written_value(values[column.tag], column.tag, column.unit, salt=column.salt)
            filled = False
            for row_at in members.get(position, ()):
                old = rows[row_at][at] if at < len(rows[row_at]) else None
                if old in (None, "") and row_at != first_row[position]:
                    continue
                if isinstance(old, str) and not _bare(old):
                    new: Any = restate_amount(old, column.tag, values[column.tag], salt=column.salt)
                elif isinstance(old, str):
                    unit = "kj" if column.unit == "kj" else ""
                    new = shown(number, unit, comma="," in old and "." not in old)
                else:
                    new = _number(number)
                cells.append((row_at, at, new))
                filled = True
            if filled:
                left.pop(column.tag, None)
        text_at = layout.roles.get("nutrition")
        if text_at is not None and left:
            for row_at in members.get(position, ()):
                old = rows[row_at][text_at] if text_at < len(rows[row_at]) else None
                if isinstance(old, str) and old.strip():
                    edited, done = _edit_text(old, values)
                    cells.append((row_at, text_at, edited))
                    left = {t: v for t, v in left.items() if t not in done}
        for tag, value in left.items():
            name = _column(tag)
            if name not in new_names:
                new_names.append(name)
            if position in first_row:
                new_cells.append((first_row[position], new_names.index(name), _number(value)))
    return cells, new_names, new_cells


def _csv(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    del path
    text = decode(data, source)[0]
    delimiter = table.sniff_delimiter(text[:65536])
    if delimiter is None:
        raise _NotWritableError("its header is no longer known")
    every = [r for r in csv.reader(io.StringIO(text.lstrip("\n ")), delimiter=delimiter) if r]
    header, rows = every[0], every[1:]
    cells, names, new_cells = _table_edits(header, rows, wanted)
    for row in rows:
        row.extend([""] * (len(header) - len(row) + len(names)))
    for row_at, column, value in cells:
        rows[row_at][column] = str(value)
    for row_at, column, value in new_cells:
        rows[row_at][len(header) + column] = str(value)
    out = io.StringIO()
    end = "\r\n" if b"\r\n" in data[:100_000] else "\n"
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end)
    writer.writerow([*header, *names])
    writer.writerows([[cell.replace("\n", end) for cell in row] for row in rows])
    bom = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    return bom + out.getvalue().encode("utf-8")


def _parquet(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    del data, source
    import tempfile

    import duckdb
    import pandas as pd

    con = duckdb.connect()
    try:
        table_now = con.execute("select * from read_parquet($path)", {"path": str(path)})
        header = [str(d[0]) for d in table_now.description or ()]
        rows = table_now.fetchall()
        cells, names, new_cells = _table_edits(header, rows, wanted)
        if any(isinstance(value, str) for _, _, value in cells):
            columns = {at for _, at, value in cells if isinstance(value, str)}
        else:
            columns = set()
        by_column: dict[str, list[tuple[int, Any]]] = {}
        for row_at, at, value in cells:
            by_column.setdefault(header[at], []).append((row_at, value))
        for row_at, at, value in new_cells:
            by_column.setdefault(names[at], []).append((row_at, value))
        joins, picks = [], []
        for number, (name, values) in enumerate(by_column.items()):
            typed = pd.DataFrame(values, columns=["row_at", "value"])
            con.register(f"new_{number}", typed)
            joins.append(f"left join new_{number} on new_{number}.row_at = source.file_row_number")
            quoted = '"' + name.replace('"', '""') + '"'
            if name in names:
                picks.append(f"new_{number}.value as {quoted}")
            else:
                picks.append(f"coalesce(new_{number}.value, source.{quoted}) as {quoted}")
        del columns
        replaced = [p for p, n in zip(picks, by_column, strict=True) if n not in names]
        added = [p for p, n in zip(picks, by_column, strict=True) if n in names]
        replace = f"replace ({', '.join(replaced)})" if replaced else ""
        with tempfile.TemporaryDirectory() as folder:
            target = Path(folder) / "copy.parquet"
            quoted_target = str(target).replace("'", "''")
            con.execute(
                f"copy (select source.* exclude (file_row_number) {replace}"
                f"{', ' if added else ''}{', '.join(added)} "
                f"from read_parquet($path, file_row_number = true) as source {' '.join(joins)} "
                f"order by source.file_row_number) to '{quoted_target}' (format parquet)",
                {"path": str(path)},
            )
            return target.read_bytes()
    except duckdb.Error as fault:
        raise _NotWritableError(cut(str(fault), 160)) from fault
    finally:
        con.close()


def _sheet(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    del source
    from pipeline.publish.sheet import edit_sheet

    edited = edit_sheet(data, path, wanted, _table_edits)
    if edited is None:
        raise _NotWritableError("its numbers stand in cells that cannot be changed")
    return edited


def _script(data: bytes, path: Path, source: str, wanted: Wanted) -> bytes:
    raise _NotWritableError("a spoken script has no place for numbers; write it as cards first")


_WRITERS: dict[str, Callable[[bytes, Path, str, Wanted], bytes]] = {
    "json-ld": _json,
    "json": _json,
    "html": _page,
    "yaml": _yaml,
    "card": _text,
    "markdown": _text,
    "csv": _csv,
    "parquet": _parquet,
    "xlsx": _sheet,
    "script": _script,
}
