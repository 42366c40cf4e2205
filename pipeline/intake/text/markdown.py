"""Markdown: recipe cards with headings and lists, with or without YAML front matter."""

from __future__ import annotations

import re
from typing import Any

from pipeline.intake.documents.blocks import Block, Cell, data_rows
from pipeline.intake.model import Read
from pipeline.intake.pages import schema_org
from pipeline.intake.structured import own_form, yaml_tree
from pipeline.intake.structured.documents import refusal
from pipeline.intake.structured.records import completed
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import BULLET, measures
from pipeline.intake.text.plain_lines import bounded
from pipeline.problems import Problem

_MATTER_BEGINS = re.compile(r"\A---[ \t]*\n")
_MATTER_ENDS = re.compile(r"^(?:---|\.\.\.)[ \t]*(?:\n|\Z)", re.MULTILINE)
_HEADING = re.compile(r"^\s{0,3}(#{1,6})\s+(.*?)\s*#*\s*$")
_RULE = re.compile(r"^\s{0,3}([-*_])(?:\s*\1){2,}\s*$")
_FENCE = re.compile(r"^\s{0,3}(?:```|~~~)")
_ROW = re.compile(r"^\s*\|.*\|\s*$|^[^|]+\|[^|]+(?:\|[^|]*)*$")
_ROW_RULE = re.compile(r"^\s*\|?\s*:?-+:?\s*(?:\|\s*:?-+:?\s*)*\|?\s*$")
# Each bounded, or unable to run over its own beginning: a line of beginnings alone takes no longer.
_IMAGE = re.compile(r"!\[[^\[\]]*\]\([^()]*\)")
_LINK = re.compile(r"\[([^\[\]]+)\]\((?:[^()]|\([^()]*\))*\)|\[\[([^\[\]]+)\]\]")
_STRUCK = re.compile(r"~~(?=\S)[^~]{1,200}~~ ?")  # what no longer holds
_BOLD = re.compile(r"\*\*(?=\S)([^*]{1,80})(?<=\S)\*\*")
_LEAST_MARKED = 2  # foods in bold of a sentence
_EMPHASIS = re.compile(r"(\*\*|__|\*|_|`)(?=\S)(.{1,200}?)(?<=\S)\1(?![A-Za-z0-9])")


def front_matter(text: str) -> tuple[int, int, int] | None:
    """Begin and end of the YAML above a Markdown text, and where the body begins; None without.

    The search for its end is linear, however long the text and whether there is one or not.
    """
    begins = _MATTER_BEGINS.match(text)
    ends = _MATTER_ENDS.search(text, begins.end()) if begins else None
    return (begins.end(), ends.start(), ends.end()) if begins and ends else None


def read_markdown(text: str, source: str) -> Read:
    """Recipes of a Markdown file; never raises.

    Front matter of our own form or with schema.org names gives what it holds; the body gives the
    rest. A rule in the body parts sections, not recipes: headings do.
    """
    front: Any = None
    problems: list[Problem] = []
    matter = front_matter(text)
    first = 1
    body = text
    if matter:
        begin, end, below = matter
        body = text[below:]
        first = text.count("\n", 0, below) + 1
        try:
            documents = yaml_tree.load_documents("\n" + text[begin:end])
            front = documents[0] if documents else None
        except yaml_tree.YamlRefusedError as fault:
            problems.append(refusal(fault, source, text))
    fronted = isinstance(front, dict)
    lines = _body_lines(body, first)
    read = read_cards(lines, source, format="markdown", told_elsewhere=fronted)
    read.found = "Markdown"
    read.problems[:0] = problems
    if isinstance(front, dict):
        _merge_front(read, front)
    return read


def _merge_front(read: Read, front: dict[str, Any]) -> None:
    if schema_org.is_recipe(front):
        told = schema_org.read_recipe(front, format="markdown", position=0)
    else:
        told = own_form.read_own(completed(front), format="markdown", position=0)
    told.source_line = 1
    if not read.recipes:
        if told.lines or told.stated:
            read.recipes.append(told)
        return
    if len(read.recipes) > 1:
        for recipe in read.recipes:
            recipe.creator = recipe.creator or told.creator
        return
    read.recipes[0].fill(told)


def _body_lines(body: str, first: int) -> list[CardLine]:
    """Lines of a Markdown text without their markup, headings with their level."""
    out: list[CardLine] = []
    raw = [bounded(line) for line in body.split("\n")]
    at = 0
    while at < len(raw):
        line, no = raw[at], first + at
        heading = _HEADING.match(line)
        below = raw[at + 1] if at + 1 < len(raw) else ""
        if heading:
            out.append(CardLine(no, _inline(heading[2]), len(heading[1])))
        elif _FENCE.match(line) or _RULE.match(line):
            out.append(CardLine(no, ""))
        elif line.strip() and re.match(r"^\s{0,3}=+\s*$", below):
            out.append(CardLine(no, _inline(line), 1))
            at += 1
        elif (
            line.strip()
            and re.match(r"^\s{0,3}-{3,}\s*$", below)
            and not re.match(r"^\s*(?:[-*+]|\d+[.)])\s", line)
            and (at == 0 or not raw[at - 1].strip())
        ):
            out.append(CardLine(no, _inline(line), 2))
            at += 1
        elif "|" in line and _ROW.match(line) and _ROW_RULE.match(below):
            end = at + 2
            while end < len(raw) and "|" in raw[end] and raw[end].strip():
                end += 1
            out.extend(_table(raw[at], raw[at + 2 : end], first + at))
            at = end - 1
        else:
            quote = re.sub(r"^\s{0,3}(?:>\s?)+", "", line)
            foods = _marked_foods(quote)
            out.extend(CardLine(no, f"- {food}", role="item") for food in foods)
            out.append(CardLine(no, _inline(quote), role="method" if foods else ""))
        at += 1
    return out


def _marked_foods(text: str) -> list[str]:
    """Foods with amounts that a sentence sets in bold; [] where it does so with one, or mostly others.

    >>> _marked_foods("Serves **4**. Fry **1 onion** in **2 tbsp oil**, then add **200 g rice**.")
    ['1 onion', '2 tbsp oil', '200 g rice']
    """
    if text.count("**") < 2 * _LEAST_MARKED or BULLET.match(text):
        return []
    marked = [said.strip(" ,.;:") for said in _BOLD.findall(text)]
    named = [said for said in marked if any(map(str.isalpha, said)) and said != text.strip("* ")]
    foods = [said for said in named if measures(said)]
    return foods if len(foods) >= _LEAST_MARKED and 2 * len(foods) > len(named) else []


def _inline(text: str) -> str:
    text = _STRUCK.sub("", _IMAGE.sub("", text))
    text = _LINK.sub(lambda m: m[1] or m[2], text)
    for _ in range(3):
        text, changed = _EMPHASIS.subn(r"\2", text)
        if not changed:
            break
    return re.sub(r"\\([\\`*_{}\[\]()#+.!|-])", r"\1", text).rstrip()


def _cells(row: str, no: int) -> list[Cell]:
    return [[Block(no, _inline(c).strip())] for c in row.strip().strip("|").split("|")]


def _table(header: str, rows: list[str], no: int) -> list[CardLine]:
    """A table as lines: ingredients by their columns, nutrition as "name value"."""
    names = _cells(header, no)
    body = [_padded(_cells(row, no + 2 + at), len(names), no) for at, row in enumerate(rows)]
    return [
        CardLine(b.no, b.item + b.text, begins=b.begins, role=b.role)
        for b in data_rows([names, *body])
    ]


def _padded(cells: list[Cell], width: int, no: int) -> list[Cell]:
    return (cells + [[Block(no, "")]] * width)[:width]
