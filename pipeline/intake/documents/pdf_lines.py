"""Characters of a PDF page and where they stand, put together to lines in the order of reading.

A PDF has no lines, only characters at places. Lines are found by their common height, columns by
the white between them, headings by the size of their type. All lengths are in points (1/72 inch),
y grows upwards.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from statistics import median

from pipeline.intake.documents.blocks import Block, Cell, table_blocks
from pipeline.intake.facts_line import find_facts
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.line_kinds import BULLET, MAYBE_STATED, looks_like_ingredient


@dataclass(frozen=True, slots=True)
class Char:
    """One character (or a ligature's): its left and right edge, its baseline, its size and weight."""

    x0: float
    x1: float
    y: float
    text: str
    size: float
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Piece(Char):
    """Characters of one line without a wide gap, or several pieces of a line put together."""

    cells: tuple[Piece, ...] = ()

    @property
    def top(self) -> float:
        """Height its letters reach."""
        return self.y + 0.8 * self.size


@dataclass(slots=True)
class Page:
    """Lines of a page, region by region (a column is one), each from top to bottom."""

    no: int
    height: float
    regions: list[list[Piece]]


#: White between two characters, as a share of the size of their type, from which on a space is
#: read, and from which on they belong to different columns or cells.
_SPACE, _APART = 0.16, 1.0
#: A baseline lower by more than this share of the size of type is of the next row.
_HEIGHT_OF_ROW = 0.45
#: White between columns, in points at least and as a share of the size of type.
_GUTTER_PT, _GUTTER_SHARE = 8.0, 0.8
#: Type larger than most by so much is a heading.
_HEADING = 1.15
_MOST_IN_HEADINGS = 0.25
_MAX_HEADING_CHARS = 100
#: Share of the page's height at its top and bottom in which running heads and page numbers stand.
_MARGIN = 0.12
#: A page of more pieces of text is read line by line.
_MAX_PIECES = 1_000
_MAX_CUTS, _MAX_GUTTERS = 30, 12


def pieces(chars: Sequence[Char]) -> list[Piece]:
    """Stretches of characters on one line, in no order."""
    out: list[Piece] = []
    for row in _rows(chars):
        run: list[Char] = []
        for char in sorted(row, key=lambda c: (c.x0, c.x1)):
            if (
                run
                and char.text == run[-1].text
                and char.x0 - run[-1].x0 < 0.3 * (char.x1 - char.x0)
            ):
                continue  # printed twice to look bold
            if run and char.x0 - run[-1].x1 > _APART * max(run[-1].size, char.size):
                out.extend(_piece(run))
                run = []
            run.append(char)
        out.extend(_piece(run))
    return out


def _rows(chars: Sequence[Char]) -> Iterator[list[Char]]:
    """Characters by common height, from the top; raised and lowered ones stay with their line."""
    row: list[Char] = []
    for char in sorted(chars, key=lambda c: -c.y):
        if row and row[0].y - char.y > _HEIGHT_OF_ROW * max(min(row[0].size, char.size), 1):
            yield row
            row = []
        row.append(char)
    if row:
        yield row


def _piece(run: Sequence[Char]) -> Iterator[Piece]:
    parts: list[str] = []
    last: Char | None = None
    for char in run:
        if last is not None and char.x0 - last.x1 > _SPACE * min(last.size, char.size):
            parts.append(" ")
        parts.append(char.text)
        last = char
    text = " ".join("".join(parts).split())
    inked = [c for c in run if c.text.strip()]
    if text and inked:
        size = median(c.size for c in inked)
        baseline = Counter(round(c.y, 1) for c in inked).most_common(1)[0][0]
        bold = sum(c.bold for c in inked) > 0.9 * len(inked)
        yield Piece(inked[0].x0, max(c.x1 for c in inked), baseline, text, size, bold)


# --- order of reading -----------------------------------------------------------------------------


def regions(found: Sequence[Piece], usual: float) -> list[list[Piece]]:
    """Lines by region: columns from left to right, what spans them between.

    Args:
        found: pieces of a page.
        usual: size of most of its type.
    """
    if len(found) > _MAX_PIECES:
        return [_lines(found)]
    return [region for region in _cut(list(found), usual, 0) if region]


def _cut(found: list[Piece], usual: float, depth: int) -> list[list[Piece]]:
    lines = _lines(found)
    if len(found) < 4 or depth > _MAX_CUTS:
        return [lines]
    gutter = _gutter(found, usual)
    if gutter is not None:
        left = [p for p in found if p.x1 <= gutter]
        right = [p for p in found if p.x1 > gutter]
        title = _title_of_both(left, right)
        right = [p for p in right if p not in title]
        return [_lines(title), *_cut(left, usual, depth + 1), *_cut(right, usual, depth + 1)]
    bands = _bands(found, usual)
    if len(bands) < 2:
        return [lines]
    out: list[list[Piece]] = []
    for band in bands:
        out.extend(_cut(band, usual, depth + 1))
    return out


def _title_of_both(left: Sequence[Piece], right: Sequence[Piece]) -> list[Piece]:
    """Lines at the top of the right column in larger type than the left one has: its title too."""
    rows = _by_row(right)
    largest = max(p.size for p in left)
    size = rows[0][0].size
    if size < _HEADING * largest:
        return []
    head = []
    for row in rows[:3]:
        if any(abs(p.size - size) > 0.6 for p in row):
            break
        head.extend(row)
    return head


def _gutter(found: Sequence[Piece], usual: float) -> float | None:
    """The middle of the widest white column with text lines on both sides, None without one."""
    gaps: list[tuple[float, float]] = []
    reach = -1e9
    for piece in sorted(found, key=lambda p: p.x0):
        width = piece.x0 - reach
        if reach > -1e9 and width >= max(_GUTTER_PT, _GUTTER_SHARE * usual):
            gaps.append((width, piece.x0 - width / 2))
        reach = max(reach, piece.x1)
    widest = sorted(gaps, reverse=True)[:_MAX_GUTTERS]
    return next((middle for _, middle in widest if _parts(found, middle)), None)


def _parts(found: Sequence[Piece], x: float) -> bool:
    """Whether the white at ``x`` parts two columns of text rather than cells of rows."""
    left = [p for p in found if p.x1 <= x]
    right = [p for p in found if p.x0 >= x]
    if len(left) + len(right) < len(found) or min(_height(left), _height(right)) < 2:
        return False
    low, high = max(_low(left), _low(right)), min(_high(left), _high(right))
    if high <= low:
        return False  # one above the other: steps of an indent, no columns
    shared = {round(p.y) for p in left} & {round(p.y) for p in right}
    rows = min(_height(left), _height(right))
    alone = max(sum(pattern("amount_alone").match(p.text) is not None for p in side) / len(side)
                for side in (left, right))  # fmt: skip
    return not (len(shared) >= 0.6 * rows and alone >= 0.5)


def _height(side: Sequence[Piece]) -> int:
    return len({round(p.y) for p in side})


def _low(side: Sequence[Piece]) -> float:
    return min(p.y for p in side)


def _high(side: Sequence[Piece]) -> float:
    return max(p.top for p in side)


def _bands(found: Sequence[Piece], usual: float) -> list[list[Piece]]:
    """Stretches from top to bottom, parted where a line lies across the white between columns."""
    rows = _by_row(found)
    spans = _best_gutter(rows, usual)
    if spans is None:
        return [list(found)]
    out: list[list[Piece]] = []
    for across, some in groupby(rows, key=lambda row: _across(row, spans, found, usual)):
        del across
        out.append([piece for row in some for piece in row])
    return out


def _across(row: Sequence[Piece], x: float, found: Sequence[Piece], usual: float) -> bool:
    if any(p.x0 < x < p.x1 for p in row):
        return True
    if len(row) > 1 or row[0].size < _HEADING * usual:
        return False
    head = row[0]  # a title that nothing stands beside belongs to what is below it
    other = (p for p in found if (p.x0 > x) != (head.x0 > x))
    return not any(p.y < head.top and p.top > head.y for p in other)


def _best_gutter(rows: Sequence[Sequence[Piece]], usual: float) -> float | None:
    """Where most rows have white between two pieces, at least three of them."""
    counts: Counter[int] = Counter()
    for row in rows:
        for a, b in pairwise(row):
            if b.x0 - a.x1 >= max(_GUTTER_PT, _GUTTER_SHARE * usual):
                counts[round(b.x0)] += 1
    starts = Counter(round(p.x0) for row in rows for p in row)
    candidates = sorted(counts, key=lambda x: (-counts[x] - 0.5 * starts[x], x))
    for at in candidates[:8]:
        x = at - 2.0
        sides = [p for row in rows for p in row if not p.x0 < x < p.x1]
        if sum(starts[at + d] for d in (-1, 0, 1)) >= 3 and _parts(sides, x):
            return x
    return None


def _by_row(found: Sequence[Piece]) -> list[list[Piece]]:
    rows: list[list[Piece]] = []
    for piece in sorted(found, key=lambda p: (-p.y, p.x0)):
        if rows and rows[-1][0].y - piece.y <= _HEIGHT_OF_ROW * min(rows[-1][0].size, piece.size):
            rows[-1].append(piece)
        else:
            rows.append([piece])
    return [sorted(row, key=lambda p: p.x0) for row in rows]


def _lines(found: Sequence[Piece]) -> list[Piece]:
    out = []
    for row in _by_row(found):
        text = " ".join(p.text for p in row)
        size = max(row, key=lambda p: len(p.text)).size
        bold = all(p.bold for p in row)
        cells = tuple(row) if len(row) > 1 else ()
        out.append(Piece(row[0].x0, row[-1].x1, row[0].y, text, size, bold, cells))
    return out


# --- what is no text of a recipe ------------------------------------------------------------------


def without_running_heads(pages: Sequence[Page]) -> None:
    """Take page numbers, and lines that stand at the edge of several pages, out of the pages."""
    edges: Counter[str] = Counter()
    for page in pages:
        edges.update({_unnumbered(p.text) for region in page.regions for p in region
                      if _at_edge(p, page)})  # fmt: skip
    often = {text for text, count in edges.items() if count >= max(3, len(pages) // 4)}
    for page in pages:
        page.regions = [
            [p for p in region if not _is_running(p, page, often, len(pages))]
            for region in page.regions
        ]


def _at_edge(piece: Piece, page: Page) -> bool:
    return piece.y > (1 - _MARGIN) * page.height or piece.y < _MARGIN * page.height


def _unnumbered(text: str) -> str:
    return re.sub(r"^\W*\d{1,4}\b\W*|\W*\b\d{1,4}\W*$", "", text).strip().lower()


def _is_running(piece: Piece, page: Page, often: set[str], pages: int) -> bool:
    if not _at_edge(piece, page):
        return False
    if pages > 1 and pattern("page_number").match(piece.text):
        return True
    if _unnumbered(piece.text) not in often:
        return False
    told = looks_like_ingredient(piece.text) or MAYBE_STATED.search(piece.text)
    return not told and not find_facts(piece.text).yields


# --- blocks -----------------------------------------------------------------------------------------


def blocks_of(pages: Sequence[Page]) -> tuple[list[Block], list[int]]:
    """Blocks of all pages, numbered from 1 on, and the page each number stands on (first: of 1)."""
    levels = _levels(pages)
    out: list[Block] = []
    places: list[int] = []
    for page in pages:
        for region in page.regions:
            for block in _region_blocks(region, levels):
                places.append(page.no)
                out.append(replace(block, no=len(places)))
            places.append(page.no)
            out.append(Block(len(places), ""))
    return out, places


def usual_size(chars: Counter[float]) -> float:
    """Size of most of the type."""
    return chars.most_common(1)[0][0] if chars else 10.0


def _levels(pages: Sequence[Page]) -> dict[float, int]:
    """Level of each size of type that is a heading's."""
    chars: Counter[float] = Counter()
    for page in pages:
        for region in page.regions:
            for piece in region:
                chars[_rounded(piece.size)] += len(piece.text)
    usual, total = usual_size(chars), sum(chars.values())
    larger = sorted((s for s in chars if s >= _HEADING * usual), reverse=True)
    shares = {s: chars[s] / total for s in larger}
    heads = [s for s in larger if shares[s] <= _MOST_IN_HEADINGS or len(larger) == 1]
    return {size: min(at, 5) for at, size in enumerate(heads, start=1)}


def _rounded(size: float) -> float:
    return round(size * 2) / 2


def _region_blocks(region: Sequence[Piece], levels: dict[float, int]) -> list[Block]:
    """Each paragraph, without its number; an empty one where one is set apart."""
    if not region:
        return []
    joined = _paragraphs(region, levels)
    gaps = [a[-1].y - b[0].y for a, b in pairwise(joined)]
    usual = median(gaps) if gaps else 0.0
    out: list[Block] = []
    at = 0
    while at < len(joined):
        if at and gaps[at - 1] > 1.4 * usual + 1:
            out.append(Block(0, ""))
        table = _table(joined[at:], gaps[at:], 1.4 * usual + 1)
        if len(table) > 1:
            out.extend(table_blocks(_cells(table), 0))
            at += len(table)
            continue
        lines = joined[at]
        first = lines[0]
        text = " ".join(line.text for line in lines)
        level = levels.get(_rounded(first.size), 0) if len(text) <= _MAX_HEADING_CHARS else 0
        strong = first.bold and not level
        out.append(Block(0, text, level, f"{_rounded(first.size)}", strong=strong))
        at += 1
    return out


def _table(joined: Sequence[Sequence[Piece]], gaps: Sequence[float], wide: float) -> list[Piece]:
    """Lines from the first on that are rows of as many cells; the first may lack one (a corner)."""
    rows: list[Piece] = []
    for at, lines in enumerate(joined):
        count = len(lines[0].cells)
        if len(lines) > 1 or count < 2 or (at and gaps[at - 1] > wide):
            break
        if (
            rows
            and count != len(rows[-1].cells)
            and (len(rows) > 1 or count != len(rows[0].cells) + 1)
        ):
            break
        rows.append(lines[0])
    return rows


def _cells(rows: Sequence[Piece]) -> list[list[Cell]]:
    """Cells of rows by the columns of the row that has most of them; a missing one is empty."""
    widest = max(rows, key=lambda row: len(row.cells)).cells
    out = []
    for row in rows:
        texts = [""] * len(widest)
        for piece in row.cells:
            middle = (piece.x0 + piece.x1) / 2
            at = min(
                range(len(widest)), key=lambda i: abs((widest[i].x0 + widest[i].x1) / 2 - middle)
            )
            texts[at] = f"{texts[at]} {piece.text}".strip()
        out.append([[Block(0, text)] for text in texts])
    return out


def _paragraphs(region: Sequence[Piece], levels: dict[float, int]) -> list[list[Piece]]:
    """Lines put together that surely run on."""
    right = max(p.x1 for p in region)
    left = min(p.x0 for p in region)
    pitches = sorted(a.y - b.y for a, b in pairwise(region))
    out = [[region[0]]]
    for piece in region[1:]:
        before = out[-1][-1]
        tight = before.y - piece.y <= min(1.6 * piece.size, 1.25 * (pitches[0] if pitches else 0))
        same = abs(before.size - piece.size) < 0.6
        if (
            same
            and tight
            and not piece.cells
            and not before.cells
            and _runs_on(out[-1], piece, left, right, levels)
        ):
            out[-1].append(piece)
        else:
            out.append([piece])
    return out


def _runs_on(
    lines: Sequence[Piece], piece: Piece, left: float, right: float, levels: dict[float, int]
) -> bool:
    """Whether a line is the rest of the one above: its first word had no room there, and it
    begins like the middle of a sentence or is set in."""
    before = lines[-1]
    if levels.get(_rounded(piece.size)):
        return before.bold == piece.bold
    text = piece.text
    if BULLET.match(text) or pattern("step").match(text):
        return False
    if pattern("open_numbers").search(before.text) and read_stated_line(before.text).certain:
        return True
    hangs = piece.x0 > lines[0].x0 + 3 and lines[0].x0 <= left + 20
    small = text[:1].islower() or text[:1] in "(&+" or bool(pattern("open_end").search(before.text))
    if not hangs and not small:
        return False
    if looks_like_ingredient(text) and not hangs and not pattern("open_end").search(before.text):
        return False
    if MAYBE_STATED.search(text) and read_stated_line(text).certain:
        return False
    first = text.split()[0]
    room = right - before.x1
    return room < (len(first) + 1) * (piece.x1 - piece.x0) / max(len(text), 1) + 1
