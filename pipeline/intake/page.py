"""Saved web pages: the JSON-LD in their scripts, and recipes marked up in the page itself."""

from __future__ import annotations

import html
import re
from typing import Any

from pipeline.intake import schema_org
from pipeline.intake.model import RawRecipe, Read, cut
from pipeline.intake.structured import JsonRefusedError, loads, recipes_of
from pipeline.problems import Problem

_COMMENT = re.compile(r"^\s*(?:<!--|//\s*<!\[CDATA\[|<!\[CDATA\[|/\*\s*<!\[CDATA\[\s*\*/)\s*")
_COMMENT_END = re.compile(r"\s*(?:-->|//\s*\]\]>|\]\]>|/\*\s*\]\]>\s*\*/)\s*;?\s*$")
_TRAILING_COMMA = re.compile(r",(\s*[}\]])")


_TAG = re.compile(r"<(/?)([a-zA-Z][a-zA-Z0-9]*)")
_OPEN_ENDED = frozenset(
    ("p", "li", "td", "tr", "th", "dt", "dd", "option", "br", "img", "meta", "link", "input", "hr")
)
#: Elements within elements; browsers stop at a tenth of it, and parsing takes its square.
MAX_DEPTH = 5_000


def _too_deep(text: str) -> bool:
    if text.count("<") < MAX_DEPTH:
        return False
    depth = 0
    for closing, name in _TAG.findall(text):
        if name.lower() in _OPEN_ENDED:
            continue
        depth = max(depth - 1, 0) if closing else depth + 1
        if depth > MAX_DEPTH:
            return True
    return False


def read_page(text: str, source: str) -> Read:
    """Recipes of an HTML page; never raises. A page without a recipe gives none."""
    read = Read(found="a web page")
    if _too_deep(text):
        read.problems.append(
            Problem(
                "page-too-deep",
                f"the page nests its elements deeper than {MAX_DEPTH:,} levels",
                "no page of a recipe does; it was not read",
                "save the page again from the browser",
                source=source,
            )
        )
        return read
    from selectolax.lexbor import LexborHTMLParser

    tree: Any = LexborHTMLParser(text)
    faults: list[Problem] = []
    at = 0
    for script in tree.css("script"):
        if "ld+json" not in (script.attributes.get("type") or "").lower():
            continue
        raw = script.text(deep=True) or ""
        at_now = text.find(raw[:200], at) if raw.strip() else -1
        at = at_now if at_now >= 0 else at
        try:
            parsed = _loads_leniently(raw)
        except JsonRefusedError as fault:
            line = text.count("\n", 0, at) + max(fault.line, 1)
            faults.append(
                Problem(
                    fault.code,
                    fault.what.replace("the file is", "a script of the page is", 1),
                    "that script was not read",
                    "save the page again, or mend the script",
                    source=source,
                    source_line=line,
                    severity="warning",
                    text=cut(raw[:200]),
                )
            )
            continue
        found = recipes_of(
            parsed, text, schema_format="html", own_format="html", start=at,
            position=len(read.recipes),
        )  # fmt: skip
        read.recipes.extend(r for r in found if r.lines or r.stated or r.title)
    if not read.recipes:
        read.recipes.extend(_marked_up(tree, text))
    read.problems.extend(faults)
    return read


def _loads_leniently(raw: str) -> Any:
    """JSON of a script as pages hold it: in comments, with trailing commas, twice escaped."""
    text = _COMMENT_END.sub("", _COMMENT.sub("", raw)).strip()
    try:
        return loads(text)
    except JsonRefusedError:
        for mended in (
            _TRAILING_COMMA.sub(r"\1", text),
            _TRAILING_COMMA.sub(r"\1", html.unescape(text)) if "&quot;" in text else text,
        ):
            try:
                return loads(mended)
            except JsonRefusedError:
                continue
        raise


def _marked_up(tree: Any, text: str) -> list[RawRecipe]:
    del tree, text
    return []


__all__ = ["read_page", "schema_org"]
