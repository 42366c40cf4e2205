"""Word documents (.docx): paragraphs, headings, lists and tables of the main text.

Names of elements: ECMA-376 Part 1, WordprocessingML (chapter 17).
"""

from __future__ import annotations

import posixpath
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake.documents.archive import MAX_DEPTH, Archive
from pipeline.intake.documents.blocks import Block, Cell, squeezed, table_blocks
from pipeline.intake.documents.office import read_office
from pipeline.intake.model import Read

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

KIND = "Word document"
_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/wordprocessingml/main}"
_OFFICE = "/officeDocument"
_DOCUMENT = "word/document.xml"
#: Around paragraphs or runs, and transparent for them.
_AROUND = frozenset(
    f"{_W}{name}"
    for name in ("sdt", "sdtContent", "customXml", "smartTag", "ins", "moveTo", "hyperlink", "fldSimple", "dir", "bdo")
)  # fmt: skip
#: Type as much larger than most of the text stands out.
_LARGER = 1.25
_OFF = frozenset(("0", "false", "off", "none"))


@dataclass(slots=True)
class _Style:
    level: int = 0
    bold: bool = False
    size: float = 0.0
    numbering: tuple[str, str] | None = None


@dataclass(slots=True)
class _Look:
    """How a document looks: its styles and lists, and the size of most of its text."""

    styles: dict[str, _Style] = field(default_factory=dict)
    bulleted: dict[tuple[str, str], bool] = field(default_factory=dict)
    size: float = 0.0


def read_word(path: Path, source: str) -> Read:
    """Recipes of a Word document; never raises. Lines are numbered by paragraph."""
    return read_office(path, source, KIND, "docx", _opened)


def _opened(archive: Archive) -> _Body:
    name = _main_part(archive)
    root = _plain(archive.xml(name))
    look = _look(archive, posixpath.dirname(name))
    look.size = _usual_size(root, look)
    return _Body(root.find(f"{_W}body") if root.tag == f"{_W}document" else root, look)


def _main_part(archive: Archive) -> str:
    if "_rels/.rels" in archive:
        for one in archive.xml("_rels/.rels"):
            target = (one.get("Target") or "").lstrip("/")
            if (one.get("Type") or "").endswith(_OFFICE) and target in archive:
                return target
    return _DOCUMENT


def _plain(root: Element) -> Element:
    """The strict form of the format has the same names in another namespace."""
    if str(root.tag).startswith(_STRICT):
        for one in root.iter():
            one.tag = str(one.tag).replace(_STRICT, _W)
            for key in [k for k in one.attrib if k.startswith(_STRICT)]:
                one.set(key.replace(_STRICT, _W), one.attrib.pop(key))
    return root


# --- styles and lists -----------------------------------------------------------------------------


def _look(archive: Archive, folder: str) -> _Look:
    look = _Look()
    styles = f"{folder}/styles.xml" if folder else "styles.xml"
    if styles in archive:
        _read_styles(_plain(archive.xml(styles)), look)
    numbering = f"{folder}/numbering.xml" if folder else "numbering.xml"
    if numbering in archive:
        look.bulleted = _bulleted(_plain(archive.xml(numbering)))
    return look


def _val(node: Element | None, path: str, default: str = "") -> str:
    found = node.find("/".join(f"{_W}{p}" for p in path.split("/"))) if node is not None else None
    return default if found is None else found.get(f"{_W}val") or default


def _read_styles(root: Element, look: _Look) -> None:
    nodes = {s.get(f"{_W}styleId") or "": s for s in root.iter(f"{_W}style")}

    def made(name: str, depth: int = 0) -> _Style:
        if name in look.styles:
            return look.styles[name]
        node = nodes.get(name)
        if node is None or depth > 20:
            return _Style()
        below = made(_val(node, "basedOn"), depth + 1)
        style = _Style(below.level, below.bold, below.size, below.numbering)
        called = _val(node, "name").lower()
        if called.startswith("heading ") and called[8:].isdigit():
            style.level = min(int(called[8:]), 9)
        elif called == "title":
            style.level = 1
        elif (outline := _val(node, "pPr/outlineLvl")).isdigit() and int(outline) < 9:
            style.level = int(outline) + 1
        bold = node.find(f"{_W}rPr/{_W}b")
        if bold is not None:
            style.bold = (bold.get(f"{_W}val") or "1") not in _OFF
        style.size = _number(_val(node, "rPr/sz")) or style.size
        style.numbering = _numbering(node) or style.numbering
        look.styles[name] = style
        return style

    for name in nodes:
        made(name)


def _number(text: str) -> float:
    return float(text) if text.isdigit() else 0.0


def _numbering(node: Element) -> tuple[str, str] | None:
    told = _val(node, "pPr/numPr/numId")
    return (told, _val(node, "pPr/numPr/ilvl", "0")) if told else None


def _bulleted(root: Element) -> dict[tuple[str, str], bool]:
    """Whether a level of a list has bullets rather than numbers, by (list, level)."""
    kinds: dict[str, dict[str, bool]] = {}
    for abstract in root.iter(f"{_W}abstractNum"):
        kinds[abstract.get(f"{_W}abstractNumId") or ""] = {
            level.get(f"{_W}ilvl") or "0": _val(level, "numFmt", "bullet") in ("bullet", "none")
            for level in abstract.iter(f"{_W}lvl")
        }
    return {
        (num.get(f"{_W}numId") or "", level): bulleted
        for num in root.iter(f"{_W}num")
        for level, bulleted in kinds.get(_val(num, "abstractNumId"), {}).items()
    }


def _usual_size(root: Element, look: _Look) -> float:
    sizes: Counter[float] = Counter()
    for paragraph in root.iter(f"{_W}p"):
        style = look.styles.get(_val(paragraph, "pPr/pStyle"), _Style())
        for run in paragraph.iter(f"{_W}r"):
            length = sum(len(t.text or "") for t in run.iter(f"{_W}t"))
            sizes[_number(_val(run, "rPr/sz")) or style.size] += length
    return sizes.most_common(1)[0][0] if sizes else 0.0


# --- the text ---------------------------------------------------------------------------------------


class _Body:
    """Walks the body; counts paragraphs, list items and the text boxes it leaves out."""

    def __init__(self, root: Element | None, look: _Look) -> None:
        self.root, self.look = root, look
        self.no = 0
        self.boxes = 0
        self._counts: Counter[tuple[str, str]] = Counter()

    def read(self) -> list[Block]:
        return self.blocks(self.root, 0)

    def blocks(self, holder: Element | None, depth: int) -> list[Block]:
        out: list[Block] = []
        if depth > MAX_DEPTH:
            raise RecursionError
        for node in holder if holder is not None else ():
            if node.tag == f"{_W}p":
                out.append(self._paragraph(node))
            elif node.tag == f"{_W}tbl":
                rows = [self._row(row, depth) for row in _within(node, f"{_W}tr")]
                out.extend(table_blocks(rows, self.no))
            elif node.tag in _AROUND:
                out.extend(self.blocks(node, depth + 1))
        return out

    def _row(self, row: Element, depth: int) -> list[Cell]:
        return [self.blocks(cell, depth + 1) for cell in _within(row, f"{_W}tc")]

    def _paragraph(self, node: Element) -> Block:
        self.no += 1
        name = _val(node, "pPr/pStyle")
        style = self.look.styles.get(name, _Style())
        parts: list[str] = []
        weights = [0, 0]  # characters that stand out, and that do not
        self._runs(node, style, parts, weights, 0)
        text = squeezed("".join(parts))
        outline = _val(node, "pPr/outlineLvl")
        level = int(outline) + 1 if outline.isdigit() and int(outline) < 9 else style.level
        item = self._item(_numbering(node) or style.numbering) if text and not level else ""
        strong = bool(text) and not level and weights[0] > 0 and weights[1] == 0
        kind = "item" if item else name
        return Block(self.no, text, min(level, 6), kind, item, strong)

    def _item(self, numbering: tuple[str, str] | None) -> str:
        if numbering is None or numbering[0] == "0":
            return ""
        if self.look.bulleted.get(numbering, True):
            return "- "
        self._counts[numbering] += 1
        return f"{self._counts[numbering]}. "

    def _runs(
        self, node: Element, style: _Style, parts: list[str], weights: list[int], depth: int
    ) -> None:
        if depth > MAX_DEPTH:
            raise RecursionError
        for child in node:
            if child.tag == f"{_W}r":
                self._run(child, style, parts, weights)
            elif child.tag in _AROUND:
                self._runs(child, style, parts, weights, depth + 1)

    def _run(self, run: Element, style: _Style, parts: list[str], weights: list[int]) -> None:
        bold = run.find(f"{_W}rPr/{_W}b")
        is_bold = style.bold if bold is None else (bold.get(f"{_W}val") or "1") not in _OFF
        size = _number(_val(run, "rPr/sz")) or style.size
        larger = size > 0 and self.look.size > 0 and size >= _LARGER * self.look.size
        if run.find(f"{_W}rPr/{_W}vanish") is not None:
            return
        for child in run:
            text = _said(child)
            if text:
                parts.append(text)
                weights[0 if is_bold or larger else 1] += len(text.strip())
            elif any(True for _ in child.iter(f"{_W}txbxContent")):
                self.boxes += 1


def _said(node: Element) -> str:
    """What an element of a run puts into the text."""
    name = str(node.tag).rpartition("}")[2]
    if name == "t":
        return node.text or ""
    if name == "sym":
        return "\uf0b7 "  # a character of a symbol font: a bullet where it begins a line
    return {"tab": " ", "br": "\n", "cr": "\n", "noBreakHyphen": "-"}.get(name, "")


def _within(node: Element, tag: str) -> list[Element]:
    """Children of a tag, also behind elements that only mark them."""
    found: list[Element] = []
    pending = list(reversed(node))
    while pending:
        child = pending.pop()
        if child.tag == tag:
            found.append(child)
        elif child.tag in _AROUND:
            pending.extend(reversed(child))
    return found
