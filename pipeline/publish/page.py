"""Corrected copies of saved web pages: numbers in their scripts, or in the markup itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pipeline.intake.files import decode
from pipeline.intake.pages import schema_org
from pipeline.intake.pages.page import loads_leniently
from pipeline.intake.structured.documents import JsonRefusedError
from pipeline.publish.numbers import NotWritableError, Original, Wanted
from pipeline.publish.restate import restate_amount
from pipeline.publish.tree import dumped, edit_tree
from pipeline.publish.yaml_text import apply_edits


def edit_page(original: Original, wanted: Wanted) -> bytes:
    """The page with corrected numbers in its scripts or its markup; the copy is UTF-8.

    Raises:
        NotWritableError: neither has room for them.
    """
    text, problems = decode(original.data, original.source)
    edited = _edited(text, wanted)
    if edited is None:
        raise NotWritableError("its numbers stand in the page in a way that cannot be changed")
    if problems:  # it was not UTF-8 before
        edited = re.sub(r"(<meta[^>]*charset\s*=\s*[\"']?)[\w.:-]+", r"\1utf-8", edited, count=1,
                        flags=re.IGNORECASE)  # fmt: skip
    return edited.encode("utf-8")


def _edited(text: str, wanted: Wanted) -> str | None:
    from selectolax.lexbor import LexborHTMLParser

    tree: Any = LexborHTMLParser(text)
    out, at, first = [], 0, 0
    for script in tree.css("script"):
        raw = script.text(deep=True) or ""
        start = text.find(raw, at) if raw.strip() else -1
        if start < 0 or "ld+json" not in (script.attributes.get("type") or "").lower():
            continue
        try:
            parsed = loads_leniently(raw)
        except JsonRefusedError:
            continue
        count = edit_tree(parsed, wanted, first)
        if any(first <= position < first + count for position in wanted):
            made = dumped(parsed, raw).replace("</", "<\\/")
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
    return apply_edits(text, edits) if edits else None
