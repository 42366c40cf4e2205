"""E-books (EPUB 2 and 3): their chapters in the order of the spine.

Names of files and elements: EPUB 3.3 (W3C Recommendation), "Open Container Format" for
``META-INF/container.xml``, "package document" for manifest and spine.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from pipeline.intake.documents.archive import Archive
from pipeline.intake.documents.blocks import card_lines
from pipeline.intake.documents.places import take, untitled
from pipeline.intake.documents.web_text import MAX_CSS, page_blocks
from pipeline.intake.files import decode
from pipeline.intake.model import Read, RefusedError
from pipeline.intake.pages.page import MAX_DEPTH, too_deep
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import begins_section
from pipeline.problems import Problem, input_problem

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

KIND = "e-book"
MAX_CHAPTERS = 2_000
_CONTAINER = "META-INF/container.xml"
_ENCRYPTION = "META-INF/encryption.xml"
_CHAPTER = re.compile(r"\.(?:x?html?|xml)$", re.IGNORECASE)
#: Lines that a chapter without a recipe may have to be the title page of the next.
_TITLE_PAGE_LINES = 15
#: A stretch of more lines is a chapter of its own, whatever follows.
_MAX_JOINED = 400


@dataclass(slots=True)
class _Chapter:
    name: str
    lines: list[CardLine]
    read: Read


def read_epub(path: Path, source: str) -> Read:
    """Recipes of an e-book; never raises. Lines are numbered within their chapter's file.

    A recipe's own id names the chapter it stands in, behind a ``#``.
    """
    read = Read(found="an e-book")
    try:
        with Archive(path, KIND, source) as archive:
            names = _spine(archive, read)
            if len(names) > MAX_CHAPTERS:
                read.problems.append(_too_many(len(names), source))
                names = names[:MAX_CHAPTERS]
            _refuse_locked(archive, names)
            for chapter in _joined(_chapters(archive, names, source, read)):
                _own_ids(chapter, source)
                take(read, chapter.read)
    except RefusedError as refused:
        read.problems.append(refused.problem)
    return read


def _too_many(count: int, source: str) -> Problem:
    return input_problem("epub-too-long", source=source, count=count, most=MAX_CHAPTERS)


def _own_ids(chapter: _Chapter, source: str) -> None:
    first = f"{source}#{chapter.name}"
    for at, recipe in enumerate(chapter.read.recipes, start=1):
        recipe.own_id = first if at == 1 else f"{first}#{at}"


# --- which chapters -----------------------------------------------------------------------------


def _spine(archive: Archive, read: Read) -> list[str]:
    """Names of the chapters' files, in reading order."""
    package = _package(archive)
    if package is None:
        read.problems.append(input_problem("epub-no-spine", source=archive.source))
        return sorted(n for n in archive.names if _CHAPTER.search(n) and "META-INF" not in n)
    name, root = package
    folder = posixpath.dirname(name)
    manifest = {
        item.get("id"): _resolved(folder, item.get("href") or "") for item in _all(root, "item")
    }
    names = [manifest.get(ref.get("idref")) for ref in _all(root, "itemref")]
    return list(dict.fromkeys(name for name in names if name))


def _package(archive: Archive) -> tuple[str, Element] | None:
    names = []
    if _CONTAINER in archive:
        names = [f.get("full-path") or "" for f in _all(archive.xml(_CONTAINER), "rootfile")]
    names += [name for name in archive.names if name.lower().endswith(".opf")]
    for name in names:
        if name in archive:
            root = archive.xml(name)
            if _all(root, "itemref"):
                return name, root
    return None


def _all(root: Element, tag: str) -> list[Element]:
    return [one for one in root.iter() if str(one.tag).rpartition("}")[2] == tag]


def _resolved(folder: str, href: str) -> str:
    try:
        path = unquote(urlsplit(href).path)
    except ValueError:
        path = href
    return posixpath.normpath(posixpath.join(folder, path)) if path else ""


def _refuse_locked(archive: Archive, names: list[str]) -> None:
    """Refuse a book whose chapters are encrypted; fonts may be."""
    if _ENCRYPTION not in archive:
        return
    hidden = {
        posixpath.normpath(unquote(one.get("URI") or ""))
        for one in _all(archive.xml(_ENCRYPTION), "CipherReference")
    }
    if hidden & set(names):
        raise RefusedError("document-locked/chapters", source=archive.source, kind=KIND)


# --- chapters -------------------------------------------------------------------------------------


def _chapters(archive: Archive, names: list[str], source: str, read: Read) -> Iterator[_Chapter]:
    sheets: dict[str, str] = {}
    for name in names:
        if name not in archive:
            read.problems.append(input_problem("epub-chapter-missing", source=source, name=name))
            continue
        if name.lower().endswith((".svg", ".png", ".jpg", ".jpeg", ".gif", ".webp")):
            continue
        text, problems = decode(archive.read(name), source)
        read.problems.extend(replace(p, what=f'{p.what} (chapter "{name}")') for p in problems)
        if too_deep(text):
            read.problems.append(
                input_problem("page-too-deep/chapter", source=source, name=name, levels=MAX_DEPTH)
            )
            continue
        blocks, _ = page_blocks(text, asides=True, css=_css(archive, name, text, sheets))
        lines = card_lines(blocks)
        yield _Chapter(name, lines, read_cards(lines, source, format="epub"))


_LINK = re.compile(r"<link\b[^<>]{0,500}?\bhref\s*=\s*[\"']([^\"'<>]{1,300}\.css)[\"']", re.I)


def _css(archive: Archive, name: str, text: str, sheets: dict[str, str]) -> str:
    out = []
    for href in _LINK.findall(text[:20_000])[:10]:
        sheet = _resolved(posixpath.dirname(name), href)
        if sheet not in sheets:
            data = archive.read(sheet) if sheet in archive else b""
            sheets[sheet] = data[:MAX_CSS].decode("utf-8", "replace")
        out.append(sheets[sheet])
    return "\n".join(out)


def _joined(chapters: Iterator[_Chapter]) -> Iterator[_Chapter]:
    """Chapters, those put together that share a recipe: a title page, a method on a page of its own."""
    held: _Chapter | None = None
    for chapter in chapters:
        if held is None:
            held = chapter
            continue
        joined = _put_together(held, chapter)
        if joined is None:
            yield held
            held = chapter
        else:
            held = joined
    if held is not None:
        yield held


def _put_together(before: _Chapter, chapter: _Chapter) -> _Chapter | None:
    filled = [line for line in chapter.lines if line.text.strip()]
    if not filled:
        return before
    if len(before.lines) > _MAX_JOINED or chapter.read.apart:
        return None
    recipes = chapter.read.recipes
    if not before.read.recipes:  # of a title page
        long = sum(bool(line.text.strip()) for line in before.lines) > _TITLE_PAGE_LINES
        if not recipes or not untitled(recipes[0]) or long:
            return None
    elif (recipes and not untitled(recipes[0])) or (
        filled[0].level and not begins_section(filled[0].text)
    ):
        return None
    lines = [*before.lines, CardLine(filled[0].no, ""), *chapter.lines]
    read = read_cards(lines, "", format="epub")
    count = len(before.read.recipes) + len(recipes)
    wanted = max(len(before.read.recipes), 1)
    if not wanted <= len(read.recipes) <= max(count, 1):
        return None
    name = before.name if before.read.recipes else chapter.name
    return _Chapter(name, lines, read)
