"""What every document is made of: paragraphs and table rows in reading order, as lines of a card."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from pipeline.intake.columns import column_among, nutrient_column, nutrient_said
from pipeline.intake.numbers import DIGITS, Roles
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import BULLET, looks_like_ingredient
from pipeline.intake.text.plain_lines import bounded
from pipeline.nutrients import BY_TAG

#: Level given to a short paragraph that stands out by its type alone, below all real headings.
STANDS_OUT = 6
_MAX_STANDING_OUT = 60
_SENTENCE_WORDS = 8
#: Lines of a cell from which on its table is a layout of the page rather than rows of data.
_LAYOUT_LINES = 3
#: Rows of a table with a recipe each, the header among them.
_LEAST_RECIPES = 3
_BULLETS = re.compile("^[\uf0b7\uf0a7\uf0d8\uf076\uf0fc\uf06f\uf0a8\uf071\u2751\u27a2]\\s*")
_SPACES = re.compile(r"[^\S\n]+")

Cell = list["Block"]


@dataclass(frozen=True, slots=True)
class Block:
    """One paragraph, list item or table row.

    Attributes:
        no: where it stands in the document, in the document's own count.
        text: without markup; a line end where the document forces one. "" is an empty paragraph.
        level: level of a heading, 0 for none.
        style: what names its kind; neighbours of one kind belong together.
        item: what a list puts before it ("- ", "3. "), "" outside a list.
        strong: all of it is set in bold or larger type.
        begins: a recipe begins here, whatever stands around it.
        role: what the line is, where a table tells; see ``CardLine``.
    """

    no: int
    text: str
    level: int = 0
    style: str = ""
    item: str = ""
    strong: bool = False
    begins: bool = False
    role: str = ""


def squeezed(text: str) -> str:
    """``text`` with runs of white space as one space; line ends stay."""
    lines = (_SPACES.sub(" ", line).strip() for line in text.split("\n"))
    return "\n".join(lines).strip("\n ")


def card_lines(blocks: Sequence[Block]) -> list[CardLine]:
    """Lines of a card from blocks, with blank lines where a reader of the page sees a new one begin.

    Between paragraphs of one kind no blank line is put, unless one of them is a sentence or has
    lines of its own: most documents give each ingredient a paragraph.
    """
    out: list[CardLine] = []
    before: Block | None = None
    for block in _levelled(_title_first([_as_item(b) for b in blocks])):
        if not block.text:
            if before is not None:
                out.append(CardLine(block.no, ""))
            before = None
            continue
        if before is not None and _apart(before, block):
            out.append(CardLine(block.no, ""))
        for at, line in enumerate(_lines_of(block)):
            level, begins = (0, False) if at else (block.level, block.begins)
            out.append(CardLine(block.no, bounded(line), level, begins, block.role))
        before = block
    return _paired(out)


def _title_first(blocks: Sequence[Block]) -> Sequence[Block]:
    """The one heading of the highest rank, before what stands in front of it (a list in a margin)."""
    ranks = [block.level for block in blocks if block.level]
    if not ranks or ranks.count(min(ranks)) > 1:
        return blocks
    at = next(i for i, block in enumerate(blocks) if block.level == min(ranks))
    if any(0 < block.level < min(ranks) + 2 for block in blocks[:at]):
        return blocks
    return [blocks[at], *blocks[:at], *blocks[at + 1 :]]


def _paired(lines: list[CardLine]) -> list[CardLine]:
    """Names and values that stand one below the other ("412", "kcal", "35 g", "protein") as lines.

    Only runs of them that name a nutrient which is no food, or servings and times, are put together.
    """
    out: list[CardLine] = []
    at = 0
    while at < len(lines):
        run, end = _run_of_pairs(lines, at)
        if not run:
            out.extend(lines[at:end])
            at = end
            continue
        said = []
        for name, value, no in run:
            if Roles(name).search(_FACT):
                out.append(CardLine(no, f"{name.rstrip(': ')}: {value}"))
            else:
                said.append(f"{value} {name.rstrip(': ')}")
        if said:
            out.append(CardLine(run[0][2], ", ".join(said)))
        at = end
    return out


def _run_of_pairs(lines: list[CardLine], at: int) -> tuple[list[tuple[str, str, int]], int]:
    """Names, values and places of the pairs from ``at`` on, and where they end."""
    kinds = [_kind(lines[at].text)]
    filled, end = [lines[at]], at + 1
    if not kinds[0]:
        return [], end
    for below in range(at + 1, len(lines)):
        text = lines[below].text.strip()
        if not text:
            continue
        kind = _kind(text)
        if not kind or kind == kinds[-1]:
            break
        kinds.append(kind)
        filled.append(lines[below])
        if len(kinds) % 2 == 0:
            end = below + 1
    filled = filled[: len(filled) // 2 * 2]
    first, second = filled[::2], filled[1::2]
    if kinds[0] == "value":
        first, second = second, first
    pairs = [
        (a.text.strip(), b.text.strip(), min(a.no, b.no))
        for a, b in zip(first, second, strict=True)
    ]
    return (pairs if any(_tells(name) for name, *_ in pairs) else [], max(end, at + 1))


def _kind(text: str) -> str:
    """ "value" for a number with or without a unit, "name" for what one may be of, "" else."""
    text = text.strip()
    if len(text) > 30:
        return ""
    line = Roles(text)
    if line.search(_VALUE):
        return "value"
    return "name" if line.search(_FACT) or nutrient_column(text.rstrip(": ")) is not None else ""


def _tells(name: str) -> bool:
    column = nutrient_column(name.rstrip(": "))
    return Roles(name).search(_FACT) is not None or (
        column is not None and column.tag not in ("SUGAR", "NA", "WATER", "ALC")
    )


_VALUE = f"^ [hedge less]? {DIGITS} [energy_unit energy metric time]? dot? $"
_FACT = "^ (?: [makes serves servings portion] | [timing total in]+ ) colon? $"


def _lines_of(block: Block) -> Iterator[str]:
    first, *more = [_plain_bullet(line) for line in block.text.split("\n") if line.strip()]
    if 0 < block.level < STANDS_OUT:
        first = pattern("title_lead").sub("", first)
    if not block.item:
        yield from (first, *more)
        return
    kept = [first]
    for line in more:  # a forced line end within an item: another ingredient, or more of this one
        if looks_like_ingredient(line):
            kept.append(line)
        else:
            kept[-1] += f" {line}"
    yield from (f"{block.item}{line}" for line in kept)


def _as_item(block: Block) -> Block:
    """A paragraph that begins with the sign of a list is an item of one."""
    if block.item or block.level or "\n" in block.text:
        return block
    text = _plain_bullet(block.text)
    bullet = BULLET.match(text)
    if bullet is None or not text[bullet.end() :].strip():
        return block
    return replace(block, text=text[bullet.end() :].strip(), item="- ")


def _plain_bullet(line: str) -> str:
    """``line`` with whatever sign a designer puts before the items of a list as a hyphen."""
    line = _BULLETS.sub("- ", line)
    sign, rest = line[:1], line[1:]
    if rest[:1] == " " and unicodedata.category(sign) == "So" and sign not in _NO_BULLETS:
        return f"-{rest}"
    return line


_NO_BULLETS = "©®™°"


def _levelled(blocks: Sequence[Block]) -> Iterator[Block]:
    """Short paragraphs in bold or large type, one or two together, are headings of a low level."""
    filled = [block for block in blocks if block.text]
    alone: set[int] = set()
    start = 0
    while start < len(filled):
        end = start
        while end < len(filled) and filled[end].strong and not filled[end].level:
            end += 1
        if 0 < end - start <= 2:
            alone.update(id(block) for block in filled[start:end])
        start = max(end, start + 1)
    for block in blocks:
        yield replace(block, level=STANDS_OUT) if id(block) in alone and _heads(block) else block


def _heads(block: Block) -> bool:
    text = block.text
    return (
        not block.item
        and len(text) <= _MAX_STANDING_OUT
        and "\n" not in text
        and not text.endswith((".", ",", ";"))
        and not looks_like_ingredient(text)
        and not read_stated_line(text).certain
    )


def _apart(a: Block, b: Block) -> bool:
    if a.level or b.level or (a.style, a.strong, bool(a.item)) != (b.style, b.strong, bool(b.item)):
        return True
    if b.item:
        return False
    return any("\n" in one.text or _is_sentence(one.text) for one in (a, b))


def _is_sentence(text: str) -> bool:
    return text.endswith((".", "!", "?")) and len(text.split()) >= _SENTENCE_WORDS


# --- tables -----------------------------------------------------------------------------------


def table_blocks(rows: Sequence[Sequence[Cell]], no: int) -> list[Block]:
    """A table as blocks: rows of data a line each; a layout of the page column by column.

    Args:
        rows: cells of each row, a cell being its blocks.
        no: where the table stands, for a row that is empty.
    """
    out: list[Block] = [Block(no, "")]
    filled = [row for row in rows if any(map(_filled, row))]
    while filled and sum(map(bool, map(_filled, filled[0]))) == 1:
        out.extend(block for cell in filled.pop(0) for block in cell)
    width = max(map(len, filled), default=0)
    filled = [[*row, *[[]] * (width - len(row))] for row in filled]
    long = any(len(_filled(cell)) >= _LAYOUT_LINES for row in filled for cell in row)
    if long and not _has_a_recipe_a_row(filled):
        filled[0] = [_as_label(cell) for cell in filled[0]] if _names_parts(filled) else filled[0]
        for at in range(width):
            for row in filled:
                out.extend(row[at])
            out.append(Block(out[-1].no, ""))
    elif filled:
        out.extend(data_rows(filled))
    out.append(Block(out[-1].no, ""))
    return out


def _names_parts(rows: Sequence[Sequence[Cell]]) -> bool:
    """Whether the first row names the parts of a card that stand below, and no dish: "Inside | How"."""
    from pipeline.intake.text.features import known_food

    names = list(map(_filled, rows[0]))
    return len(rows) > 1 and all(len(name) == 1 and not known_food(name[0]) for name in names)


def _as_label(cell: Cell) -> Cell:
    return [replace(one, text=f"{one.text.rstrip(': ')}:") if one.text else one for one in cell]


def _has_a_recipe_a_row(rows: Sequence[Sequence[Cell]]) -> bool:
    """Whether each row below the first holds a recipe, its list in one cell."""
    from pipeline.intake.tables.grid import whole_recipes
    from pipeline.intake.text.features import may_be_title

    if len(rows) < _LEAST_RECIPES or any(len(_filled(cell)) > 1 for cell in rows[0]):
        return False
    told = whole_recipes([(0, ["\n".join(_filled(cell)) for cell in row]) for row in rows])
    return sum(line.begins and may_be_title(line.text) for line in told) == len(rows) - 1


def _filled(cell: Cell) -> list[str]:
    return [line for block in cell for line in block.text.split("\n") if line.strip()]


def data_rows(band: Sequence[Sequence[Cell]]) -> Iterator[Block]:
    """Rows of data as lines: whole recipes, ingredients by their columns, numbers by their names."""
    from pipeline.intake.tables.card_rows import joined, row_line
    from pipeline.intake.tables.fact_rows import fact_kind
    from pipeline.intake.tables.grid import whole_recipes
    from pipeline.intake.tables.layout import layout_of, listed_names

    blocks = [[b for cell in row for b in cell] for row in band]
    numbers = [next((b.no for b in row if b.text), row[0].no if row else 0) for row in blocks]
    rows = [[" ".join(_filled(cell)) for cell in row] for row in band]
    single = _of_single_lines(rows)
    cells_of = [["\n".join(_filled(cell)) for cell in row] for row in band]
    recipes = [] if single else whole_recipes(list(zip(numbers, cells_of, strict=True)))
    if recipes:
        for line in recipes:
            yield Block(line.no, line.text, begins=line.begins, role=line.role, style="row")
        return
    if len(rows) == 2 and _nutrients(rows[1]) >= 2 > _nutrients(rows[0]):
        rows.reverse()  # each name below its number
    if by_bases := _by_bases(rows):
        yield from (Block(numbers[0], text, style="row") for text in by_bases)
        return
    names, body = rows[0], rows[1:]
    layout = layout_of(names)
    if single:
        rows[0] = names = single
        layout = layout_of(names)
    told = listed_names(names, body) if layout is None else None
    if told is not None and not (_nutrients(names) > 1 and _counts_only(told, body)):
        if _is_listed(told, names):  # a list without a header
            rows, numbers, body = [told, *rows], [numbers[0], *numbers], rows
        rows[0] = names = told
        layout = layout_of(names)
    listed = layout is not None and layout.kind == "tidy" and body
    named = body and (_nutrients(names) >= 2 or all(Roles(name).search(_FACT) for name in names))
    cells_of_all = [cell for row in rows for cell in row]
    for at, cells in zip(numbers, rows, strict=True):
        if not (listed or named):
            yield Block(at, _fact_row(cells, cells_of_all) or joined(list(cells)), style="row")
        elif cells is names:
            continue
        elif listed:
            text = row_line(names, cells)
            yield Block(at, text, style="row", item="" if fact_kind(text) else "- ")
        else:
            said = [
                f"{name.rstrip(': ')}: {cell}" if Roles(name).search(_FACT)
                else f"{nutrient_said(name, names)} {cell}"
                if column_among(name, names) is not None else cell
                for name, cell in zip(names, cells, strict=True) if cell
            ]  # fmt: skip
            corner = (
                "" if cells[0] or not read_stated_line(f"{names[0]}: 1 kcal").basis else names[0]
            )
            yield Block(at, f"{corner}: " * bool(corner) + ", ".join(said), style="row")


def _of_single_lines(rows: Sequence[Sequence[str]]) -> list[str]:
    """The names of the columns of a table with an ingredient a row under the name of a list of them
    ("What goes in"), that column being one of lines; [] for any other table."""
    from pipeline.intake.tables.layout import layout_of, table_form

    layout = layout_of(rows[0]) if rows else None
    if layout is None or layout.kind != "wide" or layout.roles.keys() & {"title", "id"}:
        return []
    form = table_form(rows[0], rows[1:])
    return form.names if form is not None and "line" in form.names else []


def _is_listed(names: Sequence[str], row: Sequence[str]) -> bool:
    """Whether a row has an amount where these names have the column of amounts."""
    at = names.index("amount") if "amount" in names else -1
    return at >= 0 and pattern("quantity").match(row[at]) is not None


def _by_bases(rows: Sequence[Sequence[str]]) -> list[str]:
    """A line for each column of a table of nutrients with several: "per mug: kcal 140, fat 3 g"."""
    names, *body = rows
    told = [row for row in body if row[0]]
    if len(told) < 2 or not all(nutrient_column(row[0].rstrip(": ")) for row in told):
        return []
    values = [
        at for at, name in enumerate(names)
        if at and name and all(Roles(row[at]).search(_VALUE) for row in told)
    ]  # fmt: skip
    said = {names[at]: ", ".join(f"{row[0]} {row[at]}" for row in told) for at in values}
    if len(said) < 2 or not any(read_stated_line(f"{name}: 1").basis for name in said):
        return []
    return [f"{name}: {text}" for name, text in said.items()]


def _fact_row(cells: Sequence[str], table: Sequence[str]) -> str:
    """A row with one number and what it is, of a table of such: "26 | P" is "protein 26"; "" for others.

    ``table``: all cells; letters beside one another tell what they are.
    """
    first, second, *more = [*filter(None, cells), "", ""]
    if any(more) or not second:
        return ""
    for name, value in ((first, second), (second, first)):
        if Roles(value).search(_VALUE) and len(name) == 1 and (c := column_among(name, table)):
            return f"{BY_TAG[c.tag].label} {value}"
    alone = [cell for cell in (first, second) if read_stated_line(cell).certain]
    whole = read_stated_line(f"{first} {second}")
    return alone[0] if len(alone) == 1 and not (whole.certain or whole.basis) else ""


def _counts_only(names: Sequence[str], body: Sequence[Sequence[str]]) -> bool:
    """Whether the column taken for amounts only counts: beside nutrients it is what dishes make."""
    at = names.index("amount") if "amount" in names else -1
    return at >= 0 and all(row[at].strip().isdecimal() for row in body if row[at].strip())


def _nutrients(names: Sequence[str]) -> int:
    return sum(column_among(name, names) is not None for name in names)
