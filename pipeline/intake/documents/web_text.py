"""The main text of a page, in reading order: for pages and chapters without schema.org markup."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from pipeline.intake.documents.blocks import Block, Cell, squeezed, table_blocks
from pipeline.intake.text.line_kinds import measures
from pipeline.resources import shared_rows

_HEADINGS = {f"h{level}": level for level in range(1, 7)}


def _elements(role: str) -> frozenset[str]:
    rows = shared_rows("page_elements.csv")
    return frozenset(name for r in rows if r["role"] == role for name in r["elements"].split(";"))


_SKIPPED, _BLOCKS, _STRONG = (_elements(role) for role in ("skipped", "block", "strong"))
_NO_MAIN_ROLES = frozenset(
    ("navigation", "banner", "contentinfo", "complementary", "search", "menu", "dialog")
)
_NOTE_TYPES = frozenset(
    ("footnote", "footnotes", "endnote", "endnotes", "rearnote", "noteref", "toc", "pagebreak")
)
_HIDDEN = re.compile(r"display\s*:\s*none|visibility\s*:\s*hidden", re.IGNORECASE)
_BOLD = re.compile(r"font-weight\s*:\s*(?:bold|[6-9]00)", re.IGNORECASE)
_LARGE = re.compile(
    r"font-size\s*:\s*(?:x{0,2}-?large|1\.[2-9]\d*r?em|[2-9](?:\.\d+)?r?em|1[2-9]\d%|[2-9]\d\d%)",
    re.I,
)
_RULE = re.compile(r"([^{}]{1,400})\{([^{}]*)\}")
_CLASS = re.compile(r"\.([\w-]+)$")
MAX_CSS = 1_000_000
#: Tables within tables; deeper ones are read as running text.
_MAX_TABLES = 12

# A mark before each stretch of text says the line of the file it stands on: the parser does not.
_OPEN, _CLOSE = "\ue000", "\ue001"
_MARK = re.compile(f"{_OPEN}(\\d+){_CLOSE}")
_STRAY = re.compile(f"[{_OPEN}{_CLOSE}]")
_TEXT = re.compile(r">([^<>]*\S[^<>]*)")


def numbered(text: str) -> str:
    """A page with a mark of its line before each line of its texts."""
    out: list[str] = []
    at, line = 0, 1
    text = _STRAY.sub("", text)
    for found in _TEXT.finditer(text):
        line += text.count("\n", at, found.start(1))
        out.append(text[at : found.start(1)])
        lines = found[1].split("\n")
        out.append(
            "\n".join(
                f"{_OPEN}{line + more}{_CLOSE}{part}" if part.strip() else part
                for more, part in enumerate(lines)
            )
        )
        line += len(lines) - 1
        at = found.end()
    out.append(text[at:])
    return "".join(out)


def strong_classes(css: str) -> frozenset[str]:
    """Classes that a style sheet sets in bold or in larger type."""
    found: set[str] = set()
    for selectors, rules in _RULE.findall(css[:MAX_CSS]):
        if _BOLD.search(rules) or _LARGE.search(rules):
            found.update(m[1] for s in selectors.split(",") if (m := _CLASS.search(s.strip())))
    return frozenset(found)


@dataclass(slots=True)
class PageTable:
    """A table of a page that stands in no other: the blocks it was made into, and its cells.

    Attributes:
        first, end: the first of its blocks, and the one behind the last.
        rows: line of the page and texts of the cells of each row; a cell that spans several rows or
            columns stands in the first of them, the others are empty.
    """

    first: int
    end: int
    rows: list[tuple[int, list[str]]]


def page_blocks(text: str, *, asides: bool = False, css: str = "") -> tuple[list[Block], str]:
    """Blocks of a page and the title it bears in its head; see ``page_parts``."""
    return page_parts(text, asides=asides, css=css)[:2]


def page_parts(
    text: str, *, asides: bool = False, css: str = ""
) -> tuple[list[Block], str, list[PageTable]]:
    """Blocks of a page, the title it bears in its head, and its tables.

    Args:
        text: HTML or XHTML.
        asides: whether what stands beside the text is part of it, as in a book.
        css: style sheets the page is shown with, beside those in it.
    """
    from selectolax.lexbor import LexborHTMLParser

    tree: Any = LexborHTMLParser(numbered(text))
    title = tree.css_first("title")
    named = _MARK.sub("", title.text(deep=True) or "") if title is not None else ""
    root = tree.css_first("main, [role=main]") or tree.body
    if root is None:
        return [], squeezed(named), []
    css += "\n".join(style.text(deep=True) or "" for style in tree.css("style"))
    strong = strong_classes(_MARK.sub("", css))
    flow = _Flow(asides, strong)
    flow.walk(root)
    if not any(block.text for block in flow.blocks) and root is not tree.body:
        flow = _Flow(asides, strong)
        flow.walk(tree.body)
    return flow.blocks, squeezed(named.replace("\n", " ")), flow.grids


@dataclass(slots=True)
class _Open:
    """A block element that is open: what the paragraphs in it are."""

    tag: str
    style: str = ""
    level: int = 0
    item: str = ""
    count: int = 0
    bold: bool = False


@dataclass(slots=True)
class _Flow:
    """Gathers the text of an element in blocks; loops over the tree without recursion but for tables."""

    asides: bool
    strong: frozenset[str] = frozenset()
    tables: int = 0
    in_article: int = 0
    no: int = 1
    blocks: list[Block] = field(default_factory=list)
    grids: list[PageTable] = field(default_factory=list)
    _open: list[_Open] = field(default_factory=lambda: [_Open("body")])
    _parts: list[str] = field(default_factory=list)
    _bold: int = 0
    _plain: int = 0
    _pre: int = 0
    _begun: int | None = None
    _after_span: bool = False
    _term: str = ""  # what the description that is open describes

    def walk(self, root: Any) -> None:
        stack: list[tuple[Any, bool]] = [(root, True)]
        while stack:
            node, entering = stack.pop()
            if not entering:
                self._leave(node)
                continue
            tag = node.tag or "-"  # a processing instruction has none
            if tag == "-text":
                self._text(node.text_content or "")
                continue
            if tag.startswith("-") or self._left_out(node, tag):
                continue
            if tag == "table" and self.tables < _MAX_TABLES:
                self._flush()
                self._table(node)
                continue
            self._enter(node, tag)
            stack.append((node, False))
            stack.extend((child, True) for child in reversed(list(node.iter(include_text=True))))
        self._flush()

    # --- elements -----------------------------------------------------------------------------

    def _left_out(self, node: Any, tag: str) -> bool:
        if tag in _SKIPPED:
            return True
        attributes = node.attributes
        types = set((attributes.get("epub:type") or "").split())
        if tag == "aside" and not self.asides and node.css_first("a") is not None:
            return True  # what it leads to; a box of numbers leads nowhere
        if types & _NOTE_TYPES or "hidden" in attributes or attributes.get("aria-hidden") == "true":
            return True
        if (attributes.get("role") or "").lower() in _NO_MAIN_ROLES:
            return True
        if _HIDDEN.search(attributes.get("style") or ""):
            return True
        if tag in ("header", "footer") and not self.in_article and not self.asides:
            for heading in node.css("h1") if tag == "header" else ():
                self._flush()
                self.blocks.append(
                    Block(self.no, squeezed(_MARK.sub("", heading.text(deep=True) or "")), 1)
                )
            return True
        # the number of a note; that of a fraction has no link
        return tag == "sup" and node.css_first("a") is not None

    def _enter(self, node: Any, tag: str) -> None:
        attributes = node.attributes
        if tag in ("article", "section", "main"):
            self.in_article += 1
        if tag == "pre":
            self._pre += 1
        if tag == "br":
            self._parts.append("\n")
        elif tag == "hr":
            self._flush()
            self.blocks.append(Block(self.no, ""))
        elif tag == "input" and attributes.get("type") == "checkbox":
            self._flush()
            self._open[-1].item = "- "
        elif tag == "font" and (level := _level_of(attributes)):
            self._flush()
            self._open.append(_Open(tag, tag, level))
        elif tag == "dd" and self._open[-1].tag in ("dl", "div") and self._term_waits():
            self._term = squeezed("".join(self._parts))
            self._parts.append(" ")
            self._open.append(_Open(tag, "dl"))
        elif tag in _BLOCKS:
            self._flush()
            self._open.append(self._opened(tag, attributes))
        elif tag in _STRONG or self._is_bold(attributes):
            self._bold += 1
        elif tag == "sup" and self._parts and self._parts[-1][-1:].isdigit():
            self._parts.append(" ")  # 1½ written as 1<sup>1</sup>/<sub>2</sub>
        elif (
            tag == "span"
            and self._after_span
            and self._parts[-1:]
            and self._parts[-1][-1:].isalnum()
        ):
            self._parts.append(" ")
        self._after_span = False

    def _term_waits(self) -> bool:
        return bool("".join(self._parts).strip())

    def _opened(self, tag: str, attributes: Any) -> _Open:
        style = f"{tag}.{attributes.get('class') or ''}"
        bold = self._is_bold(attributes)
        if tag in _HEADINGS:
            return _Open(tag, style, _HEADINGS[tag])
        if tag == "li":
            parent = next((o for o in reversed(self._open) if o.tag in ("ol", "ul")), None)
            if parent is not None and parent.tag == "ol":
                parent.count += 1
                return _Open(tag, "li", item=f"{parent.count}. ")
            return _Open(tag, "li", item="- ")
        return _Open(tag, style, bold=bold)

    def _is_bold(self, attributes: Any) -> bool:
        classes = (attributes.get("class") or "").split()
        return not self.strong.isdisjoint(classes) or bool(
            _BOLD.search(attributes.get("style") or "")
        )

    def _leave(self, node: Any) -> None:
        tag = node.tag
        if tag in ("article", "section", "main"):
            self.in_article -= 1
        if tag == "dt" and self._open[-1].tag == "dt":
            self._open.pop()  # what it names follows on the same line
        elif tag == self._open[-1].tag == "font":
            self._flush()
            self._open.pop()
        elif tag in _BLOCKS and tag != "hr" and self._open[-1].tag == tag and len(self._open) > 1:
            self._flush()
            self._open.pop()
            if tag in ("ul", "ol", "dl", "section", "article", "pre"):
                self.blocks.append(Block(self.no, ""))
        elif (tag in _STRONG or self._is_bold(node.attributes)) and tag not in _BLOCKS:
            self._bold = max(self._bold - 1, 0)
        if tag == "pre":
            self._pre -= 1
        self._after_span = tag == "span"

    # --- text ---------------------------------------------------------------------------------

    def _text(self, text: str) -> None:
        pieces = _MARK.split(text)  # text, line, text, line, text ...
        for at in range(1, len(pieces), 2):
            if pieces[at + 1].strip():
                self.no = int(pieces[at])
                break
        shown = "".join(pieces[::2]).replace("\u00ad", "")
        if not self._pre:
            shown = re.sub(r"\s+", " ", shown)
        if not shown:
            return
        bare = shown.strip()
        if bare:
            if self._begun is None:
                self._begun = self.no
            if not (self._bold or self._open[-1].level or any(o.bold for o in self._open)):
                self._plain += len(bare)
        self._after_span = False
        self._parts.append(shown)

    def _flush(self) -> None:
        text = squeezed("".join(self._parts))
        if text:
            holder = self._open[-1]
            place = next((o for o in reversed(self._open) if o.item), None)
            item = place.item if place is not None else ""
            if place is not None:
                place.item = ""
            strong = not self._plain and not holder.level
            style = "li" if item or any(o.tag == "li" for o in self._open) else holder.style
            if self._term and _heads_whole_line(self._term, text):
                self.blocks.append(
                    Block(self._begun or self.no, f"{self._term}:", style=style, role="heading")
                )
                text = text[len(self._term) :].strip()
            self.blocks.append(
                Block(self._begun or self.no, text, holder.level, style, item, strong)
            )
        elif self._open[-1].tag == "p" and self._parts:
            self.blocks.append(Block(self.no, ""))  # an empty paragraph parts what is around it
        self._parts.clear()
        self._begun, self._plain, self._term = None, 0, ""
        self._after_span = False

    # --- tables -------------------------------------------------------------------------------

    def _table(self, node: Any) -> None:
        rows, first = self._rows(node), len(self.blocks)
        self.blocks.extend(table_blocks(rows, self.no))
        if self.tables == 0:
            texts = [["\n".join(b.text for b in cell if b.text) for cell in row] for row in rows]
            places = [next((b.no for cell in row for b in cell), 0) for row in rows]
            grid = list(zip(places, texts, strict=True))
            self.grids.append(PageTable(first, len(self.blocks), grid))

    def _rows(self, table: Any) -> list[list[Cell]]:
        rows: list[list[Cell]] = []
        taken: dict[int, int] = {}  # columns into which a cell above reaches, and for how many rows
        pending = list(reversed(list(table.iter(include_text=False))))
        while pending:
            node = pending.pop()
            if node.tag in ("thead", "tbody", "tfoot"):
                pending.extend(reversed(list(node.iter(include_text=False))))
            elif node.tag == "caption":
                rows.append([self._cell(node)])
            elif node.tag == "tr":
                rows.append(self._row(node, taken))
        return rows

    def _row(self, node: Any, taken: dict[int, int]) -> list[Cell]:
        row: list[Cell] = []
        begun: dict[int, int] = {}
        for cell in (c for c in node.iter(include_text=False) if c.tag in ("td", "th")):
            while len(row) in taken:
                row.append([])
            more = _span(cell, "rowspan")
            begun |= {len(row): more} if more else {}
            row += [self._cell(cell), *[[]] * _span(cell, "colspan")]
        left = {at: rows - 1 for at, rows in taken.items() if rows > 1}
        taken.clear()
        taken.update(left | begun)
        return row

    def _cell(self, node: Any) -> Cell:
        inner = _Flow(
            self.asides, self.strong, tables=self.tables + 1, in_article=self.in_article, no=self.no
        )
        inner.walk(node)
        self.no = inner.no
        return inner.blocks


def _level_of(attributes: Any) -> int:
    """Rank of a heading set by a ``font`` larger than the text, 0 for any other; HTML 3.2 has seven
    sizes, of which 3 is the usual one."""
    size = str(attributes.get("size") or "").strip()
    number = int(size) if re.fullmatch(r"\+?\d", size) else 0
    number += _USUAL_SIZE if size.startswith("+") else 0
    return max(1, _LARGEST + 1 - number) if number > _USUAL_SIZE else 0


def _heads_whole_line(term: str, text: str) -> bool:
    """Whether a description by itself is a food with its amount, so that its term is a heading."""
    rest = text[len(term) :]
    return text.startswith(term) and not any(map(str.isdigit, term)) and measures(rest.strip())


def _span(cell: Any, name: str) -> int:
    """How many rows or columns a cell takes in beside its own."""
    span = str(cell.attributes.get(name) or "")
    return min(int(span) if span.isdigit() else 1, _MAX_SPAN) - 1 if span != "0" else 0


_MAX_SPAN = 50
_USUAL_SIZE, _LARGEST = 3, 7
