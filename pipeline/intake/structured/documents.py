"""JSON, YAML and XML files: schema.org recipes or our own form, one or many, in any nesting."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from json.encoder import encode_basestring, encode_basestring_ascii
from typing import Any

from pipeline.intake.amounts import Written
from pipeline.intake.files import LineIndex
from pipeline.intake.model import RawRecipe, Read, RefusedError, cut, guarded
from pipeline.intake.pages import schema_org
from pipeline.intake.structured import own_form, xml_tree, yaml_tree
from pipeline.intake.structured.grids import with_grids
from pipeline.intake.structured.number_records import numbers_in
from pipeline.intake.structured.records import recipes_in
from pipeline.intake.structured.text_values import with_texts
from pipeline.intake.unread import keys_in, unread
from pipeline.problems import Problem


def read_json(text: str, source: str, *, json_lines: bool = True) -> Read:
    """Recipes of a JSON text, or of JSON lines; never raises."""
    try:
        trees = [loads(text)]
    except JsonRefusedError as fault:
        lines = _json_lines(text) if (json_lines and fault.line > 1) or fault.extra else None
        if lines is None:
            problem = replace(fault.problem, source=source, text=cut(_line_of(text, fault.line)))
            return Read(problems=[problem], found="JSON")
        trees = lines
    read = Read(found="JSON")
    tree = trees if len(trees) > 1 else trees[0]
    nodes, read.recipes = _by_keys(tree, text)
    read.recipes = with_texts(tree, nodes, read.recipes, Finder(text).line_in_order)
    read.apart = numbers_in(tree, "json", read.recipes, Finder(text))
    read = with_grids(read, tree, source, Finder(text).line_in_order)
    read.problems += unread(keys_in(tree), read)
    return read


def recipes_of(
    tree: Any, text: str | None, *, schema_format: str = "json-ld", own_format: str = "json",
    start: int = 0, position: int = 0,
) -> list[RawRecipe]:  # fmt: skip
    """Recipes of a parsed tree; ``text`` gives their lines, searched from ``start`` on."""
    return _by_keys(tree, text, schema_format, own_format, start, position)[1]


def _by_keys(
    tree: Any, text: str | None, schema_format: str = "json-ld", own_format: str = "json",
    start: int = 0, position: int = 0,
) -> tuple[list[dict[str, Any]], list[RawRecipe]]:  # fmt: skip
    """The parts of a tree that are recipes by their keys, and these."""
    finder = Finder(text, start) if text is not None else None
    objects, of_schema_org = recipes_in(tree)
    read_one: Callable[..., RawRecipe] = own_form.read_own
    if of_schema_org:
        read_one = partial(schema_org.read_recipe, nodes=schema_org.by_id(tree))
    format = schema_format if of_schema_org else own_format
    found = []
    for at, node in enumerate(objects, start=position):
        if finder is not None:
            finder.begin()
        read = partial(read_one, node, format=format, position=at, find_line=finder)
        found.append(guarded(read, format, at))
    return objects, found


class Finder:
    """Lines of the strings of a JSON text. Call it for ingredients; ``peek`` for all else.

    Recipes of a file follow one another, so a recipe's strings stand behind the last ingredient
    of the recipe before; the same string twice in a recipe stands in two places.
    """

    _WINDOW = 256 * 1024  # a recipe is never longer; bounds the search in bulk files

    def __init__(self, text: str, start: int = 0) -> None:
        self._text = text
        self._index = LineIndex(text)
        self._floor = self._furthest = start
        self._next: dict[str, int] = {}
        self._slashes = "\\/" in text
        self._writers = [encode_basestring]
        if "\\u" in text or "\\U" in text:
            self._writers.append(encode_basestring_ascii)

    def begin(self) -> None:
        """The next recipe starts."""
        self._floor = self._furthest
        self._next.clear()

    def __call__(self, text: str) -> int | None:
        """Line of an ingredient; None when it is written with escapes not foreseen."""
        at = self._find(text)
        if at is None:
            return None
        self._furthest = max(self._furthest, at)
        return self._index.line(at)

    def peek(self, text: str) -> int | None:
        """Line of any other string of this recipe; does not move on."""
        at = self._find(text)
        return None if at is None else self._index.line(at)

    def line_in_order(self, text: str) -> int | None:
        """Line of a string that stands behind those asked for before."""
        self.begin()
        return self(text)

    def _find(self, text: str) -> int | None:
        if not text:
            return None
        for write in self._writers[:1] if text.isascii() else tuple(self._writers):
            needle = write(text)
            slashed = needle.replace("/", "\\/") if self._slashes else needle
            for one in (slashed, needle) if slashed != needle else (needle,):
                start = self._next.get(one, self._floor)
                at = self._text.find(one, start, self._floor + self._WINDOW)
                if at >= 0:
                    self._next[one] = at + len(one)
                    if write is not self._writers[0] and not text.isascii():
                        self._writers.reverse()  # a file is mostly written in one manner
                    return at
        return None


class JsonRefusedError(RefusedError):
    """The text is no JSON that is read here; ``extra``: something stands behind it."""

    def __init__(self, code: str, line: int, *, extra: bool = False, **values: Any) -> None:
        super().__init__(code, source_line=line or None, **values)
        self.code, self.fix = self.problem.code, self.problem.fix
        self.line, self.extra = line, extra


_DECODER = json.JSONDecoder(strict=False, parse_float=Written)


def loads(text: str) -> Any:
    """Parse JSON as pages really hold it: raw line breaks in strings pass.

    Raises:
        JsonRefusedError: with the line, and what to do.
    """
    try:
        return _DECODER.decode(text)
    except json.JSONDecodeError as fault:
        said = f"{fault.msg[0].lower()}{fault.msg[1:]}"
        raise JsonRefusedError(
            "json-invalid", fault.lineno, extra=fault.msg == "Extra data", said=said,
            no=fault.lineno, column=fault.colno,
        ) from None  # fmt: skip
    except RecursionError:
        raise JsonRefusedError("json-too-deep", 1) from None
    except ValueError as fault:  # a whole number of more digits than Python turns into one
        raise JsonRefusedError("json-invalid/number", 0, said=cut(str(fault), 60)) from None


def _json_lines(text: str) -> list[Any] | None:
    trees = []
    for line in text.split("\n"):
        if not line.strip():
            continue
        try:
            trees.append(loads(line))
        except JsonRefusedError:
            return None
    return trees if len(trees) > 1 else None


def read_yaml(text: str, source: str) -> Read:
    """Recipes of a YAML file of one or several documents; never raises."""
    return _read_documents(text, source, "YAML", yaml_tree.load_documents)


def read_xml(text: str, source: str) -> Read:
    """Recipes of an XML file, whatever its tags; never raises."""
    return _read_documents(text, source, "XML", lambda text: [xml_tree.load_xml(text)])


def _read_documents(text: str, source: str, name: str, load: Callable[[str], list[Any]]) -> Read:
    """Recipes of the trees that ``load`` makes of a text, whose strings know their lines."""
    try:
        trees = load(text)
    except RefusedError as fault:
        return Read(problems=[refusal(fault, source, text)], found=name)
    read, form = Read(found=name), name.lower()
    nodes: list[dict[str, Any]] = []
    for tree in trees:
        parts, recipes = _by_keys(tree, None, form, form, position=len(read.recipes))
        nodes += parts
        read.recipes += recipes
    read.recipes = with_texts(trees, nodes, read.recipes, lambda text: getattr(text, "line", None))
    read.apart = [one for tree in trees for one in numbers_in(tree, form, read.recipes)]
    read = with_grids(read, trees, source, lambda text: getattr(text, "line", None))
    read.problems += unread(keys_in(trees), read)
    return read


def refusal(fault: RefusedError, source: str, text: str) -> Problem:
    """The problem of a text that was refused."""
    line = fault.problem.source_line
    return replace(fault.problem, source=source, text=cut(_line_of(text, line or 0)))


def _line_of(text: str, line: int) -> str:
    """Beginning of a line of a text, "" when there is none of that number."""
    lines = text.split("\n", line)
    return lines[line - 1][:500] if 0 < line <= len(lines) else ""
