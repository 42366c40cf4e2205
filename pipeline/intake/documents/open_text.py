"""OpenDocument texts (.odt): paragraphs, headings, lists and tables of the main text.

Names of elements: OASIS OpenDocument 1.3 Part 3 (chapters 4, 5, 9 and 10).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake.documents.archive import MAX_DEPTH, Archive
from pipeline.intake.documents.blocks import Block, Cell, squeezed, table_blocks
from pipeline.intake.documents.office import read_office
from pipeline.intake.model import Read, RefusedError

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

KIND = "OpenDocument text"
_NS = "urn:oasis:names:tc:opendocument:xmlns:"
_OFFICE, _TEXT, _TABLE, _STYLE, _DRAW = (
    f"{{{_NS}{name}:1.0}}" for name in ("office", "text", "table", "style", "drawing")
)
_FO = f"{{{_NS}xsl-fo-compatible:1.0}}"
_LEFT_OUT = frozenset(
    [f"{_TEXT}note", f"{_TEXT}tracked-changes", f"{_OFFICE}annotation", f"{_TEXT}table-of-content",
     f"{_TEXT}sequence-decls", f"{_OFFICE}forms", f"{_TEXT}ruby-text"]
)  # fmt: skip
#: Cells one behind another that a file may give by a count alone.
_MAX_REPEATED = 50


@dataclass(slots=True)
class _Style:
    parent: str = ""
    called: str = ""
    bold: bool | None = None


def read_open_text(path: Path, source: str) -> Read:
    """Recipes of an OpenDocument text; never raises. Lines are numbered by paragraph."""
    return read_office(path, source, KIND, "odt", _opened)


def _opened(archive: Archive) -> _Body:
    if "META-INF/manifest.xml" in archive:
        manifest = archive.xml("META-INF/manifest.xml")
        if any(str(one.tag).endswith("}encryption-data") for one in manifest.iter()):
            raise RefusedError("document-locked", source=archive.source, kind=KIND)
    content = archive.xml("content.xml")
    parts = [archive.xml("styles.xml")] if "styles.xml" in archive else []
    parts.append(content)
    return _Body(
        content.find(f"{_OFFICE}body/{_OFFICE}text"), _styles(parts), _numbered_lists(parts)
    )


def _styles(roots: list[Element]) -> dict[str, _Style]:
    found: dict[str, _Style] = {}
    for root in roots:
        for node in root.iter(f"{_STYLE}style"):
            weight = node.find(f"{_STYLE}text-properties")
            said = weight.get(f"{_FO}font-weight") if weight is not None else None
            found[node.get(f"{_STYLE}name") or ""] = _Style(
                node.get(f"{_STYLE}parent-style-name") or "",
                node.get(f"{_STYLE}display-name") or node.get(f"{_STYLE}name") or "",
                None if said is None else said == "bold" or said > "500",
            )
    return found


def _numbered_lists(roots: list[Element]) -> frozenset[str]:
    """List styles whose first level has numbers."""
    found = set()
    for root in roots:
        for node in root.iter(f"{_TEXT}list-style"):
            first = next(iter(node), None)
            if first is not None and first.tag == f"{_TEXT}list-level-style-number":
                found.add(node.get(f"{_STYLE}name") or "")
    return frozenset(found)


class _Body:
    """Walks the text; counts paragraphs and the text boxes it leaves out."""

    def __init__(
        self, root: Element | None, styles: dict[str, _Style], numbered: frozenset[str]
    ) -> None:
        self.root, self.styles, self.numbered = root, styles, numbered
        self.no = 0
        self.boxes = 0

    def read(self) -> list[Block]:
        return self.blocks(self.root, 0)

    def blocks(self, holder: Element | None, depth: int, list_style: str = "") -> list[Block]:
        out: list[Block] = []
        if depth > MAX_DEPTH:
            raise RecursionError
        for node in holder if holder is not None else ():
            if node.tag in (f"{_TEXT}p", f"{_TEXT}h"):
                out.append(self._paragraph(node))
            elif node.tag == f"{_TEXT}list":
                out.extend(self._list(node, depth, list_style))
            elif node.tag == f"{_TABLE}table":
                out.extend(table_blocks(self._rows(node, depth), self.no))
            elif node.tag == f"{_DRAW}frame":
                self.boxes += node.find(f"{_DRAW}text-box") is not None
            elif node.tag not in _LEFT_OUT:  # sections and the like
                out.extend(self.blocks(node, depth + 1, list_style))
        return out

    def _list(self, node: Element, depth: int, outer: str) -> list[Block]:
        style = node.get(f"{_TEXT}style-name") or outer
        out: list[Block] = []
        count = 0
        for item in node:
            blocks = self.blocks(item, depth + 1, style)
            if item.tag == f"{_TEXT}list-header" or not blocks:
                out.extend(blocks)
                continue
            count += 1
            first = blocks[0]
            if not first.item and not first.level:
                said = f"{count}. " if style in self.numbered else "- "
                blocks[0] = Block(first.no, first.text, 0, "item", said if first.text else "",
                                  first.strong)  # fmt: skip
            out.extend(blocks)
        return out

    def _rows(self, table: Element, depth: int) -> list[list[Cell]]:
        rows = []
        for row in table.iter(f"{_TABLE}table-row"):
            cells: list[Cell] = []
            for cell in row:
                if cell.tag != f"{_TABLE}table-cell":
                    continue
                told = cell.get(f"{_TABLE}number-columns-repeated") or "1"
                blocks = self.blocks(cell, depth + 1)
                cells.extend([blocks] * min(int(told) if told.isdigit() else 1, _MAX_REPEATED))
            rows.append(cells)
        return rows

    def _paragraph(self, node: Element) -> Block:
        self.no += 1
        name = node.get(f"{_TEXT}style-name") or ""
        parts: list[str] = []
        weights = [0, 0]  # characters in bold, and not
        for text, bold in self._texts(node, self._bold(name), 0):
            parts.append(text)
            weights[0 if bold else 1] += len(text.strip())
        text = squeezed("".join(parts))
        level = self._level(node, name) if text else 0
        strong = not level and weights[0] > 0 and weights[1] == 0
        return Block(self.no, text, level, self._kind(name), "", strong)

    def _texts(self, node: Element, bold: bool, depth: int) -> Iterator[tuple[str, bool]]:
        if depth > MAX_DEPTH:
            raise RecursionError
        yield _flat(node.text), bold
        for child in node:
            name = child.tag
            if name == f"{_TEXT}line-break":
                yield "\n", bold
            elif name in (f"{_TEXT}tab", f"{_TEXT}s"):
                yield " ", bold
            elif name == f"{_DRAW}frame":
                self.boxes += child.find(f"{_DRAW}text-box") is not None
            elif name not in _LEFT_OUT:
                style = child.get(f"{_TEXT}style-name") or ""
                inner = self._bold(style, bold) if name == f"{_TEXT}span" else bold
                yield from self._texts(child, inner, depth + 1)
            yield _flat(child.tail), bold

    def _up(self, name: str) -> Iterator[_Style]:
        for _ in range(20):
            style = self.styles.get(name)
            if style is None:
                return
            yield style
            name = style.parent

    def _bold(self, name: str, default: bool = False) -> bool:
        return next((s.bold for s in self._up(name) if s.bold is not None), default)

    def _kind(self, name: str) -> str:
        """The style a person chose, below what the program made of it."""
        style = self.styles.get(name)
        return style.parent or name if style is not None else name

    def _level(self, node: Element, name: str) -> int:
        if node.tag == f"{_TEXT}h":
            told = node.get(f"{_TEXT}outline-level") or "1"
            return min(int(told), 6) if told.isdigit() and int(told) else 1
        return int(any(style.called.replace("_20_", " ") == "Title" for style in self._up(name)))


def _flat(text: str | None) -> str:
    """White space of the file is one space; what is meant stands as an element."""
    return " ".join(f"x{text}x".split())[1:-1] if text else ""
