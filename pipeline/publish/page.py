"""Corrected copies of saved web pages: numbers in their scripts, or in the markup itself."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from pipeline.intake.pages import schema_org
from pipeline.intake.pages.page import loads_leniently, too_deep
from pipeline.intake.structured.documents import JsonRefusedError
from pipeline.publish.restate import restate_amount


def edit_page(
    text: str,
    edit_tree: Callable[[Any, int], int],
    dump: Callable[[Any, str], str],
    wanted: Mapping[int, Mapping[str, float]],
) -> str | None:
    """The page with corrected numbers in its scripts or its markup; None when neither has room.

    Args:
        text: the page.
        edit_tree: sets the numbers of the recipes of a parsed script, whose first recipe has the
            given position, and returns how many recipes the script holds.
        dump: JSON of a tree in the manner of the script it came from.
        wanted: position of a recipe in the page to its numbers, by tag.
    """
    from selectolax.lexbor import LexborHTMLParser

    if too_deep(text):
        return None
    tree: Any = LexborHTMLParser(text)
    out, at, first = [], 0, 0
    for script in tree.css("script"):
        if "ld+json" not in (script.attributes.get("type") or "").lower():
            continue
        raw = script.text(deep=True) or ""
        start = text.find(raw, at) if raw.strip() else -1
        if start < 0:
            continue
        try:
            parsed = loads_leniently(raw)
        except JsonRefusedError:
            continue
        count = edit_tree(parsed, first)
        if any(first <= position < first + count for position in wanted):
            made = dump(parsed, raw).replace("</", "<\\/")
            lead = raw[: len(raw) - len(raw.lstrip())]
            tail = raw[len(raw.rstrip()) :]
            out += [text[at:start], lead, made.strip(), tail]
            at = start + len(raw)
        first += count
    if first:
        return "".join([*out, text[at:]])
    return _edit_markup(text, wanted)


def _edit_markup(text: str, wanted: Mapping[int, Mapping[str, float]]) -> str | None:
    """Numbers of microdata and RDFa, in attributes and in the text they mark."""
    edits: list[tuple[int, int, str]] = []
    for name, (tag, salt) in schema_org.PROPERTIES.items():
        marked = re.compile(
            rf"<[^<>]*\b(?:itemprop|property)\s*=\s*[\"'][^\"']*\b{name}\b[^\"']*[\"'][^<>]*>"
        )
        for position, match in enumerate(marked.finditer(text)):
            if tag not in wanted.get(position, {}):
                continue
            value = wanted[position][tag]
            content = re.search(r"\bcontent\s*=\s*([\"'])(.*?)\1", match[0])
            if content:
                start = match.start() + content.start(2)
                new = restate_amount(content[2], tag, value, salt=salt)
                edits.append((start, start + len(content[2]), new))
            end = text.find("<", match.end())
            inner = text[match.end() : end]
            if re.search(r"\d", inner):
                edits.append((match.end(), end, restate_amount(inner, tag, value, salt=salt)))
    if not edits:
        return None
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text
