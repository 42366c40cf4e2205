"""Ingredient entries of structured files: strings, objects, groups and nests of these, as lines."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any

from pipeline.intake.columns import entry_keys
from pipeline.intake.model import RawLine, cut, unreadable
from pipeline.intake.patterns import pattern
from pipeline.intake.structured.yaml_tree import Text, is_null
from pipeline.problems import Problem, input_problem

MAX_LINES = 5_000
MAX_LINE_CHARS = 2_000

_TAGS = re.compile(r"<(?:/?[a-zA-Z][^<>]{0,200}|!--.{0,200}?--)>")
_ZERO_WIDTH = re.compile("[\u200b\ufeff]")
_HEADING = re.compile(
    r"^(?!\s*[\d½¼¾⅓⅔⅛])(?:.{1,70}:\s*$|\s*(?:for|to make)\s+(?:the|your)\s+[^\d]{1,50}$)", re.I
)
FindLine = Callable[[str], int | None]


def clean(text: str) -> str:
    """``text`` without markup, entities and odd spaces; the words are left as they are."""
    if "&" in text:
        text = html.unescape(text)
        if "&" in text and ";" in text:
            text = html.unescape(text)  # pages escape twice
    if "<" in text:
        text = _TAGS.sub(" ", text)
    if not text.isascii():
        text = _ZERO_WIDTH.sub(" ", text)
    return " ".join(text.split())


def is_heading(text: str) -> bool:
    """True when an ingredient string only announces those after it ("For the sauce:")."""
    return _HEADING.match(text) is not None


def are_plain(texts: Sequence[str]) -> bool:
    """Whether each text is a line as it stands: ``clean`` changes none, and none is a heading.

    Errs on the side of no: a text that is refused here is only looked at more closely.
    """
    joined = "\n".join(texts)
    whole = f"\n{joined}\n"
    lowered = whole.lower()
    return (
        "".join(texts).isprintable()  # no line break, tab, other space or mark of no width
        and not ("&" in whole or "<" in whole)
        and not ("  " in whole or "\n " in whole or " \n" in whole or "\n\n" in whole)
        and not (":\n" in whole or "\nfor " in lowered or "\nto make " in lowered)
        and len(texts) < MAX_LINES
        and (len(whole) <= MAX_LINE_CHARS or max(map(len, texts)) <= MAX_LINE_CHARS)
    )


@lru_cache(maxsize=16384)
def _entry(text: str) -> tuple[str, bool]:
    """A line as shown, and whether it is a heading."""
    text = clean(text)
    return text, is_heading(text[:MAX_LINE_CHARS])


class Entries:
    """Collects the lines of one recipe; total over whatever the file holds."""

    def __init__(self, find_line: FindLine | None = None) -> None:
        self.lines: list[RawLine] = []
        self.problems: list[Problem] = []
        self._find_line = find_line
        self._section = ""

    def add(self, value: Any, depth: int = 0) -> None:
        """Add a string, an object, a group, or a list of these."""
        if is_null(value) or value == "":
            return
        if isinstance(value, str):
            self._text(value)
        elif isinstance(value, bool):
            self._unreadable(value)
        elif isinstance(value, (int, float)):
            self._text(f"{value:g}" if math.isfinite(value) else str(value))
        elif isinstance(value, Mapping) and depth < 8:
            self._object(value, depth)
        elif isinstance(value, (list, tuple)) and depth < 8:
            if self._find_line is None and set(map(type, value)) == {str} and are_plain(value):
                self.lines += [RawLine(text, self._section) for text in value]
                return
            for one in _unwrapped(value):
                if len(self.lines) >= MAX_LINES:
                    too_many_lines(self.problems, self.lines)
                    return
                self.add(one, depth + 1)
        else:
            self._unreadable(value)

    def heading(self, text: str, line: int | None = None) -> None:
        """A heading: a line of its own, and the section of the lines after it."""
        text = clean(text)
        if not text:
            return
        self._section = text.rstrip(": ")
        self._append(text if text.endswith(":") else f"{text}:", "", line)

    def _text(self, value: str) -> None:
        parts = value.split("\n") if "\n" in value else [value]
        line = value.line if isinstance(value, Text) else None
        found = None
        if line is None and self._find_line is not None:
            found = self._find_line(value)  # once, however many lines it holds
        for offset, part in enumerate(parts):
            text, heads = _entry(str(part))
            if not text:
                continue
            at = line + offset if line is not None else found
            text = not_too_long(text, self.problems, self.lines, at)
            if heads:
                self._section = text.rstrip(": ")
            self._append(text, "" if heads else self._section, at)

    def _append(self, text: str, section: str, line: int | None) -> None:
        self.lines.append(RawLine(text, section, line))

    def _object(self, value: Mapping[Any, Any], depth: int) -> None:
        by_key = {str(k).lower().lstrip("@"): v for k, v in value.items()}

        def held(field: str, kind: type) -> Any:
            return next(
                (by_key[k] for k in entry_keys(field) if isinstance(by_key.get(k), kind)), None
            )

        line = getattr(value, "line", None)
        if (group := held("group", list)) is not None:
            self._group(held("heading", str) or "", group, line, depth)
            return
        if text := held("text", str):
            self._text(_at(_with_amount(text, by_key), getattr(text, "line", line)))
            return
        if len(by_key) == 1:
            (key, only), *_ = value.items()
            if isinstance(only, list):  # YAML: "- For the sauce: [...]"
                self._group(str(key), only, line, depth)
                return
            if str(key).lower() not in entry_keys("ingredient") and not isinstance(only, Mapping):
                # YAML reads "- 2 eggs: beaten" as a pair, and "- For the sauce:" as an empty one
                pair = (f"{key}: {only}", f"{only} {key}", f"{key} ({only})")
                text = f"{key}:" if is_null(only) else best_order(str(key), *pair)
                self._text(_at(text, line))
                return
        rendered = render(by_key)
        if rendered:
            self._text(_at(rendered, line))
        else:
            self._unreadable(value)

    def _group(self, name: str, members: list[Any], line: int | None, depth: int) -> None:
        """Entries under a heading of their own."""
        before, self._section = self._section, ""
        self.heading(name, line)
        self.add(members, depth + 1)
        self._section = before

    def _unreadable(self, value: Any) -> None:
        self.problems.append(
            input_problem(
                "ingredient-unreadable", source_line=getattr(value, "line", None),
                line_no=len(self.lines) or None, text=cut(repr(value)),
                entry=cut(repr(value), 60),
            )
        )  # fmt: skip
        self._append(unreadable(cut(repr(value), 60)), self._section, getattr(value, "line", None))


def _with_amount(text: str, entry: Mapping[str, Any]) -> str:
    """A line with the amount that stands beside it, where it does not begin with one itself."""
    amount = render({key: v for key, v in entry.items() if v != text} | {"name": text})
    beside = amount.removesuffix(text).strip()
    told = re.search(rf"(?<![\w.,]){re.escape(beside)}(?!\w)", text)
    if not beside or not amount.endswith(text) or told:
        return text
    from pipeline.lines import parse  # here: few entries hold a line and an amount

    begins = any(m.of_text[0] == 0 < m.of_text[1] for m in parse(text).measures)
    return text if begins else amount


def _unwrapped(entries: Sequence[Any]) -> Sequence[Any]:
    """The texts of objects that all hold one text under the same key: [{"item": "2 eggs"}, ...]."""
    keys = {tuple(one) if isinstance(one, Mapping) else () for one in entries}
    key = next(iter(keys), ())
    if len(entries) < 2 or len(keys) != 1 or len(key) != 1:
        return entries
    texts = [one[key[0]] for one in entries]
    return texts if all(isinstance(text, str) and text.strip() for text in texts) else entries


def not_too_long(text: str, problems: list[Problem], lines: list[RawLine], at: int | None) -> str:
    """As much of the next line of a recipe as is read; what is left out becomes a problem."""
    if len(text) > MAX_LINE_CHARS:
        problems.append(
            input_problem(
                "line-too-long", source_line=at, line_no=len(lines) + 1, text=cut(text),
                length=len(text), most=MAX_LINE_CHARS,
            )
        )  # fmt: skip
    return text[:MAX_LINE_CHARS]


def too_many_lines(problems: list[Problem], lines: list[RawLine], at: int | None = None) -> None:
    """Say that a recipe has more lines than are read, and let it not be taken for known in full."""
    problems.append(input_problem("too-many-lines", source_line=at, most=MAX_LINES))
    lines.append(RawLine(unreadable(f"the lines after the first {MAX_LINES:,}"), "", at))


def _at(text: str, line: int | None) -> str:
    if line is None:
        return text
    marked = Text(text)
    marked.line, marked.start, marked.end, marked.quoted = line, 0, 0, False
    return marked


def best_order(food: str, *ways: str) -> str:
    """The first of several ways to write a food and its amount in which most amounts are read.

    >>> best_order("lentils, dry", "lentils, dry 250 g", "250 g lentils, dry")
    '250 g lentils, dry'
    """
    if not any(c.isnumeric() for c in ways[0]):
        return ways[0]
    from pipeline.lines import parse  # here: few files hold a food and its amount apart

    alone = parse(food)
    if alone.measures:
        return ways[0]

    def read(text: str) -> int:
        line = parse(text)
        return len(line.measures) if line.name == alone.name else 0

    return max(ways, key=read)


def render(entry: Mapping[str, Any]) -> str:
    """Text of ``{name, amount, unit, note}`` as a cook writes it; "" without a name.

    >>> render({"name": "oats", "amount": 40, "unit": "g", "note": "rolled"})
    '40 g oats, rolled'
    """

    def value_of(field: str) -> str:
        for key in entry_keys(field):
            found = entry.get(key)
            if isinstance(found, Mapping):
                found = " ".join(
                    str(found[k]) for k in ("value", "amount", "unitText", "unit", "name")
                    if found.get(k) not in (None, "")
                )  # fmt: skip
            if found is None or isinstance(found, (list, bool)) or is_null(found):
                continue
            if isinstance(found, float) and math.isfinite(found):
                return getattr(found, "written", None) or f"{found:g}"
            return str(found).strip()
        return ""

    name = value_of("ingredient")
    if not name:
        return ""
    amount, _, aside = value_of("amount").partition(", ")  # "8, size 7": of the food, not its count
    if pattern("amount").search(aside):
        amount, aside = f"{amount}, {aside}", ""  # "1 cup, 115 g"
    unit, grams = value_of("unit"), value_of("grams")
    if grams and unit and not amount:  # a column of grams beside one of units: "2", "each"
        amount, grams = grams, ""
    amount = " ".join(part for part in (amount, unit) if part)
    if grams and not re.search(r"[a-z]", grams, re.IGNORECASE):
        grams = f"{grams} g" if any(c.isdigit() for c in grams) else ""
    if grams and not amount and name[:1].isdigit():  # a whole line, and what it weighs
        said = re.search(rf"(?<![\d.,]){re.escape(grams.removesuffix(' g'))}(?![\d.,])", name)
        name, grams = name if said else f"{name} ({grams})", ""
    head = f"{amount or grams} {name}".lstrip()
    if "," in amount:  # "1 cup, level, 120 g"
        head = best_order(name, head, f"{name} ({amount})")
    if amount and grams and amount != grams:
        head = best_order(name, f"{head} ({grams})", f"{grams} {name}, {amount}")
    note = ", ".join(filter(None, (aside, value_of("note"))))
    optional = " (optional)" if str(entry.get("optional", "")).lower() in ("true", "yes") else ""
    if note[:1].isdigit():  # no further food: "5 oranges (650 g peeled)"
        return f"{head} ({note}){optional}"
    return head + (f", {note}" if note else "") + optional
