"""The stage's door: files and folders in, the collection's three tables and its problems out."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.csv_rows import split_lines
from pipeline.intake import files
from pipeline.intake.facts_line import find_facts
from pipeline.intake.files import SourceFile
from pipeline.intake.model import RawRecipe, RawStated, Read, cut
from pipeline.intake.pages.schema_org import set_yield
from pipeline.intake.spoken import card_marks as script_marks
from pipeline.intake.spoken import cards as script_cards
from pipeline.intake.text.card import card_lines, looks_like_ingredient, read_cards
from pipeline.problems import Problem, is_of_the_input
from pipeline.settings import FILE_NAME, Settings

if TYPE_CHECKING:
    import pandas as pd

_YAML_PANTRIES = ("pantry.yaml", "pantry.yml")
STDIN = "-"
STDIN_ID = "stdin"
_JSON_ENDINGS = frozenset({".json", ".jsonld", ".jsonl", ".ndjson"})
_YAML_ENDINGS = frozenset({".yaml", ".yml"})
_TABLE_ENDINGS = frozenset({".csv", ".tsv", ".tab"})
_MARKDOWN_ENDINGS = frozenset({".md", ".markdown", ".mdown", ".mkd"})
_PAGE_ENDINGS = frozenset({".html", ".htm", ".xhtml", ".mhtml"})
_HTML = re.compile(r"<(?:!doctype\s+html|html|head|body|script|div|meta|article|main|p|h1)\b", re.I)
_YAML_INGREDIENTS = re.compile(r"^ingredients:", re.MULTILINE)
_YAML_LIKE = re.compile(
    r"(?:#[^\n]*\n|[ \t]*\n|---[ \t]*\n)*"
    r"(?:(?:title|name|id|servings|creator|description|ingredients)[ \t]*:"
    r"|-[ \t]+(?:title|name|id)[ \t]*:)"
)


@dataclass(slots=True)
class Collection:
    """What the recipes say, as tables (``pipeline.tables``), and what could not be read.

    Attributes:
        recipe: one row a recipe, columns ``tables.RECIPE``.
        stated: one row a (recipe_id, nutrient), columns ``tables.STATED``.
        line: one row a (recipe_id, line_no), columns ``tables.LINE``.
        problems: in the order of the files.
        root: folder that ``source`` is relative to.
        pantry_path: the creator's label foods beside the recipes, None when there are none.
        decisions_path: remembered answers beside the recipes, None when there are none.
        files: path of each source, so that corrected copies can be written.
        stdin: what came by standard input, "" when nothing did.
        said_at: time of a line of a spoken script by (recipe_id, line_no), "00:01:23"; of a stated
            number by (recipe_id, its place among the recipe's, from -1 down).
        scripts: one row a spoken script, columns ``tables.SCRIPT``.
        script_marks: what was understood where in them, columns ``tables.SCRIPT_MARK``.
        reading: ways to read the servings of recipes that leave them open, columns
            ``tables.READING``.
    """

    recipe: pd.DataFrame
    stated: pd.DataFrame
    line: pd.DataFrame
    problems: list[Problem]
    root: Path
    pantry_path: Path | None = None
    decisions_path: Path | None = None
    files: dict[str, Path] = field(default_factory=dict)
    stdin: str = ""
    said_at: dict[tuple[str, int], str] = field(default_factory=dict)
    scripts: pd.DataFrame = field(default_factory=lambda: script_frames([], [])[0])
    script_marks: pd.DataFrame = field(default_factory=lambda: script_frames([], [])[1])
    reading: pd.DataFrame = field(default_factory=lambda: reading_frame([]))


def reading_frame(rows: list[tuple[object, ...]]) -> pd.DataFrame:
    """READING of its rows, typed also when empty."""
    import pandas as pd

    from pipeline.tables import READING

    frame = pd.DataFrame(rows, columns=READING)
    numbers = ("servings", "serving_g", "belief")
    return frame.astype({"rank": "int64", **dict.fromkeys(numbers, "float64")})


def script_frames(
    scripts: list[tuple[object, ...]], marks: list[tuple[object, ...]]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """SCRIPT and SCRIPT_MARK of their rows, typed also when empty."""
    import pandas as pd

    from pipeline import tables

    script = pd.DataFrame(scripts, columns=tables.SCRIPT).astype("object")
    mark = pd.DataFrame(marks, columns=tables.SCRIPT_MARK)
    mark = mark.astype(
        {"start": "int64", "end": "int64", "line_no": "Int64", "start_s": "float64",
         "end_s": "float64"}
    )  # fmt: skip
    return script, mark


def read_collection(
    paths: Sequence[str | Path] | str | Path,
    *,
    settings: Settings | None = None,
    stdin: str | bytes | None = None,
) -> Collection:
    """Read recipes from files, folders and standard input; total, never raises for bad input.

    Args:
        paths: files, folders (walked in name order), or ``-`` for ``stdin``.
        settings: ``creator`` fills recipes that name none; ``follow_links``, ``pantry`` and
            ``decisions`` as documented there.
        stdin: what ``-`` stands for.

    Returns:
        A collection; a file that could not be read is a ``Problem`` in it, the rest is there.
    """
    settings = settings or Settings.model_validate({})
    given = [paths] if isinstance(paths, (str, Path)) else list(paths)
    root = files.collection_root(given)
    pantry, pantry_problem = companion(root, settings.pantry, "pantry.csv", "pantry")
    decisions, decisions_problem = companion(root, settings.decisions, "decisions.csv", "decisions")
    skip = frozenset(p for p in (pantry, decisions, root / FILE_NAME) if p is not None)
    found = files.find_files(given, follow_links=settings.follow_links, skip=skip)
    problems = [p for p in (pantry_problem, decisions_problem) if p is not None] + found.problems
    building = Building(settings.creator)
    origin: dict[str, Path] = {}
    for file, cards in script_cards.pairs(found.files):
        read = read_file(file)
        script_marks.mark_shared_lines(read)
        origin[file.source] = file.path
        if cards is None:
            problems.extend(read.problems)
            building.add(file.source, read, problems)
            continue
        origin[cards.source] = cards.path
        for source, one in _with_cards(file, read, cards):
            problems.extend(one.problems)
            building.add(source, one, problems, script=file.source)
    text = ""
    if found.stdin:
        read, text = _read_stdin(stdin)
        problems.extend(read.problems)
        building.add(STDIN, read, problems)
    recipe, stated, line = building.frames()
    scripts, marks = script_frames(building.scripts, building.marks)
    return Collection(
        recipe, stated, line, problems, root, pantry, decisions, origin, text, building.said_at,
        scripts, marks, reading_frame(building.readings),
    )  # fmt: skip


def collection_files(paths: Sequence[str | Path], settings: Settings) -> dict[str, Path]:
    """Every file that a run on ``paths`` reads: recipes, pantry, decisions, settings, by its name."""
    root = files.collection_root(paths)
    pantry, _ = companion(root, settings.pantry, "pantry.csv", "pantry")
    decisions, _ = companion(root, settings.decisions, "decisions.csv", "decisions")
    own = [p for p in (pantry, decisions, root / FILE_NAME) if p is not None and p.is_file()]
    found = files.find_files(paths, follow_links=settings.follow_links, skip=frozenset(own))
    return {file.source: file.path for file in found.files} | {p.name: p for p in own}


def companion(
    root: Path, named: str, default: str, setting: str
) -> tuple[Path | None, Problem | None]:
    """A file of the collection that is no recipe, and what is wrong when a setting names none.

    Args:
        root: folder of the collection.
        named: file the settings name, relative to ``root``; "" for none.
        default: file looked for then; a pantry may also end in ``.yaml`` or ``.yml``.
        setting: name of the setting, for the message.
    """
    usual = [default, *(_YAML_PANTRIES if setting == "pantry" else ())]
    for name in [named] if named else usual:
        if (root / name).is_file():
            return root / name, None
    if not named:
        return None, None
    return None, Problem(
        f"{setting}-not-found",
        f'the {setting} file "{named}" does not exist',
        f"it is named in {FILE_NAME}; the run goes on without it",
        f"mend the path in {FILE_NAME}, or take the setting out",
        source=FILE_NAME,
        severity="warning",
    )


def _with_cards(file: SourceFile, read: Read, cards: SourceFile) -> Iterator[tuple[str, Read]]:
    """A script and the file of cards beside it, as (source, what it gave).

    The cards stand for a spoken script; beside anything else they are a file of their own.
    """
    written = read_file(cards)
    if read.script is None:
        yield file.source, read
        yield cards.source, written
        return
    try:
        text = files.decode(cards.path.read_bytes(), cards.source)[0]
    except OSError:  # told by ``read_file``
        text = ""
    both = script_cards.in_place_of(read, written, text, cards.source)
    yield (file.source if both is read else cards.source), both


# --- one file ---------------------------------------------------------------------------------


def read_file(file: SourceFile) -> Read:
    """Read one file by what it holds; never raises. No recipe in it is a problem of its own."""
    try:
        size = os.stat(file.path).st_size
        with open(file.path, "rb") as handle:
            head = handle.read(files.SNIFF_BYTES)
            special = _special(file, head, size)
            if special is not None:
                return _with_source(special, file.source)
            if size > files.MAX_TEXT_BYTES and not _may_be_large(file, head):
                return _too_large(file, size, files.MAX_TEXT_BYTES)
            if size > files.MAX_JSON_BYTES and not _is_table(file, head):
                return _too_large(file, size, files.MAX_JSON_BYTES)
            data = head if size <= len(head) else head + handle.read(files.MAX_JSON_BYTES)
    except OSError as fault:
        return Read(
            problems=[
                Problem(
                    "file-unreadable",
                    f'the file "{file.path.name}" cannot be opened',
                    fault.strerror or str(fault),
                    "give yourself the right to read it, or leave it out",
                    source=file.source,
                )
            ]
        )
    try:
        text, problems = files.decode(data, file.source)
        read = _read_text(file, text, data)
    except Exception as fault:
        return Read(problems=[_stumbled(fault, file.source)])
    read.problems[:0] = problems
    _nothing_found(read, file, text)
    if file.source.endswith(script_cards.ENDING):
        script_cards.own_ids(read, file.source)
    return _with_source(read, file.source)


def _stumbled(fault: Exception, source: str) -> Problem:
    """The problem of a file over which its reader stumbled; it costs that file alone."""
    if isinstance(fault, (RecursionError, MemoryError)):
        return Problem(
            "file-too-deep", "the file is nested deeper than can be read", type(fault).__name__,
            "check what wrote the file", source=source,
        )  # fmt: skip
    if not is_of_the_input(fault) and not isinstance(fault, OSError):
        raise fault
    return Problem(
        "file-unreadable", "the file could not be read to its end",
        f"{type(fault).__name__}: {str(fault)[:120]}; nothing of it was taken",
        "split the file to find the recipe that is in the way, and report it",
        source=source,
    )  # fmt: skip


def read_text(text: str, source: str) -> Read:
    """Read a text whose file is not at hand."""
    return _read_text(SourceFile(Path(source), source, named=True), text, None)


def _with_source(read: Read, source: str) -> Read:
    read.problems = [p if p.source else replace(p, source=source) for p in read.problems]
    return read


def _may_be_large(file: SourceFile, head: bytes) -> bool:
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    return start in (b"{", b"[") or _is_table(file, head)


def _is_table(file: SourceFile, head: bytes) -> bool:
    return file.path.suffix.lower() in _TABLE_ENDINGS


def _too_large(file: SourceFile, size: int, limit: int) -> Read:
    problem = Problem(
        "file-too-large",
        f"the file holds {size / files.MIB:,.0f} MB",
        f"texts of more than {limit / files.MIB:,.0f} MB are not read: no recipe text is that long",
        "split it, or give recipes in bulk as JSON, CSV or Parquet",
        source=file.source,
    )
    return Read(problems=[problem])


def _special(file: SourceFile, head: bytes, size: int) -> Read | None:
    """Files that are no text: empty, Parquet, a spreadsheet, or unreadable."""
    from pipeline.intake.tables import table

    if not head.strip():
        return Read(
            problems=[
                Problem(
                    "file-empty",
                    f'the file "{file.path.name}" is empty',
                    "there was nothing to read",
                    "write a recipe into it, or take it out of the folder",
                    source=file.source,
                    severity="warning",
                )
            ]
        )
    if head.startswith(b"PAR1"):
        read = table.read_parquet(file.path, file.source)
        _nothing_found(read, file, "")
        return read
    if head.startswith(b"PK\x03\x04") and file.path.suffix.lower() in (".xlsx", ".xlsm"):
        from pipeline.intake.tables.sheet import read_sheet

        read = read_sheet(file.path, file.source)
        _nothing_found(read, file, "")
        return read
    if files.looks_binary(head):
        kind = files.binary_kind(head)
        return Read(
            problems=[
                Problem(
                    "file-binary",
                    f'the file "{file.path.name}" is {kind}, not a recipe text',
                    "it was not read",
                    "save the recipe as text, JSON, YAML, CSV, Markdown or a web page",
                    source=file.source,
                )
            ]
        )
    return None


def _read_text(file: SourceFile, text: str, data: bytes | None) -> Read:
    """Choose the reader by content first, by ending where the content leaves it open."""
    from pipeline.intake.tables import table

    ending = file.path.suffix.lower()
    start = text.lstrip()
    if start[:1] in ("{", "[") or (ending in _JSON_ENDINGS and start[:1] != "<"):
        read = _read_json(text, file.source, ending)
        if read is not None:
            return read
    if ending in _PAGE_ENDINGS or (start[:1] == "<" and _HTML.search(start[:4096])):
        from pipeline.intake.pages.page import read_page

        page = read_page(text, file.source)
        if page.recipes or ending in _PAGE_ENDINGS:
            return page
        card = read_cards(card_lines(text), file.source)  # its title only begins like a tag
        return card if card.recipes else page
    script = _script_kind(start, ending)
    if script:
        from pipeline.intake.spoken.script import read_script

        return read_script(text, file.source, kind=script)
    if ending in _TABLE_ENDINGS or (
        ending not in _MARKDOWN_ENDINGS | _YAML_ENDINGS and table.sniff_delimiter(text[:65536])
    ):
        return table.read_csv(_lines_of(file, text, data), text[:65536], file.source)
    from pipeline.intake.text.markdown import front_matter, read_markdown

    if ending in _MARKDOWN_ENDINGS or front_matter(text):
        return read_markdown(text, file.source)
    if ending in _YAML_ENDINGS or (ending in ("", ".txt", ".text") and _looks_like_yaml(text)):
        from pipeline.intake.structured.documents import read_yaml

        read = read_yaml(text, file.source)
        if read.recipes or ending in _YAML_ENDINGS:
            return read
    if _runs_on(text):
        from pipeline.intake.spoken.script import read_script

        read = read_script(text, file.source, kind="script")
        if read.recipes:
            return read
    return read_cards(card_lines(text), file.source)


def _lines_of(file: SourceFile, text: str, data: bytes | None) -> Iterator[str]:
    """Lines of a table; of one larger than what is read as one text, from the file itself."""
    if data is None or len(data) < files.MAX_JSON_BYTES:
        yield from split_lines(text)
        return
    with open(file.path, encoding="utf-8-sig", errors="replace") as handle:
        for line in handle:
            yield line.rstrip("\n")


def _looks_like_yaml(text: str) -> bool:
    return bool(_YAML_LIKE.match(text) and _YAML_INGREDIENTS.search(text))


def _read_json(text: str, source: str, ending: str) -> Read | None:
    """None when the text only begins like JSON ("[Sauce]") and its ending promises none."""
    from pipeline.intake.structured.documents import read_json

    read = read_json(text, source)
    refused = not read.recipes and bool(read.problems)
    return None if refused and ending not in _JSON_ENDINGS and text.lstrip()[:1] != "{" else read


def _script_kind(start: str, ending: str) -> str:
    """What caption format a text is in, "" for none."""
    if start.startswith("WEBVTT"):
        return "webvtt"
    if ending == ".srt" or re.match(r"\d+\s*\n\d+:\d\d:\d\d[,.]\d{1,3}\s*-->", start):
        return "srt"
    return ""


_INGREDIENTS_LINE = re.compile(r"^[^\w\n]{0,40}ingredients\b.{0,30}$", re.IGNORECASE | re.MULTILINE)


def _runs_on(text: str) -> bool:
    """True for running talk: long lines, amounts in their middle, no list of ingredients."""
    lines = [line for line in text[:200_000].split("\n") if line.strip()]
    if not lines or _INGREDIENTS_LINE.search(text[:200_000]):
        return False
    words = sum(len(line.split()) for line in lines) / len(lines)
    listed = sum(len(line) < 60 and looks_like_ingredient(line) for line in lines)
    if words < 9 or listed > len(lines) / 4:
        return False
    from pipeline.intake.spoken.script import looks_spoken

    return looks_spoken(text)


def _nothing_found(read: Read, file: SourceFile, text: str) -> None:
    """Say so when a file gave neither a recipe nor a reason."""
    if read.recipes or any(p.severity == "error" for p in read.problems):
        return
    prose = read.found in ("plain text", "Markdown")
    problem = Problem(
        "no-recipe",
        f'no recipe was found in "{file.path.name}"',
        f"it was read as {read.found or 'text'}" + _missing(read.found),
        "leave the file out if it holds none; else see the forms a recipe may have in README.md",
        source=file.source,
        source_line=None,
        severity="error" if file.named else "note" if prose else "warning",
        text=cut(text[:200]),
    )
    read.problems.append(problem)


def _missing(found: str) -> str:
    return {
        "a web page": ", and neither its scripts (JSON-LD) nor its markup name a schema.org Recipe",
        "JSON": ", and nothing in it is a schema.org Recipe or has a title and ingredients",
        "YAML": ", and nothing in it has a title and ingredients",
        "plain text": ", and no lines in it look like ingredients under a title",
    }.get(found, "")


def _read_stdin(stdin: str | bytes | None) -> tuple[Read, str]:
    if stdin is None or not stdin.strip():
        problem = Problem(
            "stdin-empty",
            "nothing came by standard input",
            '"-" stands for a recipe piped into the command',
            "pipe a recipe in, or name a file",
            source=STDIN,
        )
        return Read(problems=[problem]), ""
    file = SourceFile(Path(STDIN), STDIN, named=True)
    data = stdin.encode("utf-8", "replace") if isinstance(stdin, str) else stdin
    if data.startswith((b"PAR1", b"PK\x03\x04")):
        import tempfile

        ending = ".parquet" if data.startswith(b"PAR1") else ".xlsx"
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"stdin{ending}"
            path.write_bytes(data)
            return read_file(SourceFile(path, STDIN, named=True)), ""
    special = _special(file, data[: files.SNIFF_BYTES], len(data))
    if special is not None:
        return special, ""
    text, problems = files.decode(data, STDIN)
    try:
        read = _read_text(file, text, None)
    except Exception as fault:
        read = Read(problems=[_stumbled(fault, STDIN)])
    read.problems[:0] = problems
    _nothing_found(read, file, text)
    return _with_source(read, STDIN), text


# --- ids and tables ---------------------------------------------------------------------------


class Building:
    """Gathers recipes as columns; one frame each at the end, no row appends."""

    def __init__(self, creator: str) -> None:
        self._creator = creator
        self.said_at: dict[tuple[str, int], str] = {}
        self.scripts: list[tuple[object, ...]] = []
        self.marks: list[tuple[object, ...]] = []
        self.readings: list[tuple[object, ...]] = []
        self._where: dict[str, str] = {}
        self._recipe: list[tuple[object, ...]] = []
        self._stated: list[tuple[object, ...]] = []
        self._line: list[tuple[object, ...]] = []

    def add(self, source: str, read: Read, problems: list[Problem], *, script: str = "") -> None:
        """Add the recipes of one file, in their order, and their problems.

        Args:
            source: the file.
            read: what it gave.
            problems: to which its problems are added.
            script: the spoken script that the text and the marks are of, when that is another file.
        """
        ids: list[str] = []
        for raw in read.recipes:
            _make_writable(raw)
            _leave_out_impossible(raw)
            _servings_in_text(raw)
            recipe_id = self._id(raw, source, problems)
            ids.append(recipe_id)
            found = [*raw.problems, *_shortcomings(raw)]
            title = raw.title
            if not title:
                title = Path(source).stem.replace("_", " ").replace("-", " ").strip() or "untitled"
                if raw.position:
                    title = f"{title} {raw.position + 1}"
            self._recipe.append(
                (recipe_id, title, raw.servings, raw.serving_word, raw.yield_g,
                 raw.creator or self._creator, raw.description, source, raw.source_line,
                 raw.format, raw.position, raw.told.pieces, raw.told.piece_word, "", raw.method)
            )  # fmt: skip
            if len(raw.readings) > 1 or any(r.serving_g > 0 for r in raw.readings):
                self.readings.extend(
                    (recipe_id, rank, r.servings, r.word, r.serving_g, r.belief, r.how)
                    for rank, r in enumerate(raw.readings, start=1)
                )
            stated, twice = _one_a_nutrient(raw.stated)
            self._stated.extend(
                (recipe_id, s.nutrient, s.amount, s.basis, s.step, s.text) for s in stated
            )
            self._line.extend(
                (recipe_id, no, one.section, one.text, one.source_line)
                for no, one in enumerate(raw.lines, start=1)
            )
            self._remember_times(recipe_id, raw, stated)
            problems.extend(
                replace(p, source=p.source or source, recipe_id=recipe_id,
                        source_line=p.source_line if p.source_line is not None else raw.source_line)
                for p in [*found, *twice]
            )  # fmt: skip
        if read.script is not None:
            self.scripts.append((script or source, read.script))
            self.marks.extend(
                (script or source, m.start, m.end, m.kind, "" if m.recipe is None else ids[m.recipe],
                 None if m.line is None else m.line + 1, m.start_s, m.end_s, m.note)
                for m in read.marks
            )  # fmt: skip

    def _remember_times(self, recipe_id: str, raw: RawRecipe, stated: list[RawStated]) -> None:
        for no, line in enumerate(raw.lines, start=1):
            if line.time:
                self.said_at[recipe_id, no] = line.time
        for place, one in enumerate(stated, start=1):
            if one.time:
                self.said_at[recipe_id, -place] = one.time

    def _id(self, raw: RawRecipe, source: str, problems: list[Problem]) -> str:
        base = STDIN_ID if source == STDIN else source
        wanted = raw.own_id or (base if raw.position == 0 else f"{base}#{raw.position + 1}")
        place = source if raw.source_line is None else f"{source}:{raw.source_line}"
        recipe_id, again = wanted, 1
        while recipe_id in self._where:
            again += 1
            recipe_id = f"{wanted}~{again}"
        if again > 1:
            problems.append(
                Problem(
                    "duplicate-id",
                    f'the recipe id "{cut(wanted, 60)}" is used twice',
                    f'first in {self._where[wanted]}; this one goes on as "{cut(recipe_id, 64)}"',
                    "give each recipe an id of its own",
                    source=source,
                    source_line=raw.source_line,
                    recipe_id=recipe_id,
                    severity="warning",
                )
            )
        self._where[recipe_id] = place
        return recipe_id

    def frames(self) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
        """The tables, columns and types as ``pipeline.tables`` says, also when empty."""
        import pandas as pd

        from pipeline import tables

        recipe = pd.DataFrame(self._recipe, columns=tables.RECIPE)
        recipe = recipe.astype(
            {"servings": "float64", "yield_g": "float64", "source_line": "Int64",
             "position": "int64", "pieces": "float64"}
        )  # fmt: skip
        stated = pd.DataFrame(self._stated, columns=tables.STATED)
        stated = stated.astype({"amount": "float64", "step": "float64"})
        line = pd.DataFrame(self._line, columns=tables.LINE)
        line = line.astype({"line_no": "int64", "source_line": "Int64"})
        return recipe, stated, line


#: A recipe states no more of anything, in kcal, g or mg, weighs no more grams, and serves no fewer.
MOST_STATED, MOST_YIELD_G, LEAST_SERVINGS = 1e9, 1e8, 0.01


def _leave_out_impossible(raw: RawRecipe) -> None:
    """Numbers that no recipe can mean are left out, each with its problem: sums would drown in them."""

    def problem(code: str, what: str, line: int | None) -> Problem:
        return Problem(
            code, what, "it was left out", "check the number and its decimals", source_line=line
        )

    kept = []
    for one in raw.stated:
        if one.amount <= MOST_STATED and one.step <= MOST_STATED:
            kept.append(one)
            continue
        what = f'the stated number "{cut(one.text, 40)}" is more than any recipe holds'
        raw.problems.append(problem("stated-unreadable", what, one.source_line))
    raw.stated = kept
    if raw.servings < LEAST_SERVINGS:
        what = f"{raw.servings:g} is too little to be a number of servings"
        raw.problems.append(problem("servings-invalid", what, raw.source_line))
        raw.servings = math.nan
    if raw.yield_g > MOST_YIELD_G:
        what = f"{raw.yield_g:g} g is more than any recipe weighs"
        raw.problems.append(problem("yield-invalid", what, raw.source_line))
        raw.yield_g = math.nan


def _servings_in_text(raw: RawRecipe) -> None:
    """Servings that only the title or the description says ("Lentil soup (serves 4)")."""
    if _servings_known(raw) or not any(s.basis == "per_serving" for s in raw.stated):
        return
    for place, text in (("title", raw.title), ("description", raw.description)):
        said = next((y for y in find_facts(text).yields if _SERVED.search(y)), None)
        said = said or ((one := _FOR_ONE.search(text)) and one[0])
        if not said:
            continue
        set_yield(raw, "1 serving" if _FOR_ONE.search(said) else said, raw.source_line)
        if not math.isnan(raw.servings):
            raw.problems.append(
                Problem(
                    "servings-in-text",
                    f'the number of servings is said in its {place} alone: "{cut(said, 40)}"',
                    f"it was read as {raw.servings:g}",
                    'write it on a line of its own, such as "Serves 4"',
                    severity="note",
                    text=cut(said),
                )
            )
            return


#: Words that make a count one of servings, whatever else a text counts.
_SERVED = re.compile(r"serv|feeds|portion|people|person|adults", re.IGNORECASE)
_FOR_ONE = re.compile(r"\((?:1|one|single)\s(?:serving|portion|person)\)|\bfor\sone\b", re.I)


def _servings_known(raw: RawRecipe) -> bool:
    told = any(r.servings > 0 or r.serving_g > 0 for r in raw.readings)
    refused = any(p.code == "servings-invalid" for p in raw.problems)
    return told or refused or not math.isnan(raw.servings)


#: Halves of a character that JSON may name alone ("\\ud83d"); no file can hold them.
_SURROGATE = re.compile("[\ud800-\udfff]")


def _make_writable(raw: RawRecipe) -> None:
    """Replace halves of characters by U+FFFD in every text of a recipe, and say so once."""
    bad = 0

    def whole(text: str) -> str:
        nonlocal bad
        if not text or text.isascii() or not _SURROGATE.search(text):
            return text
        bad += 1
        return _SURROGATE.sub("\ufffd", text)

    for name in ("title", "serving_word", "creator", "description", "own_id"):
        setattr(raw, name, whole(getattr(raw, name)))
    for line in raw.lines:
        line.text, line.section = whole(line.text), whole(line.section)
    for stated in raw.stated:
        stated.text = whole(stated.text)
    raw.problems = [
        replace(p, what=whole(p.what), why=whole(p.why), fix=whole(p.fix), text=whole(p.text))
        for p in raw.problems
    ]
    if bad:
        raw.problems.append(
            Problem(
                "characters-broken",
                "the recipe holds halves of characters",
                f"{bad} texts of it were read with \ufffd in their place",
                "write the file again from the program it came from",
                severity="warning",
            )
        )


def _shortcomings(raw: RawRecipe) -> list[Problem]:
    """What a recipe lacks to be checked in full."""
    found: list[Problem] = []
    codes = {p.code for p in raw.problems}
    name = cut(raw.title or "the recipe", 60)
    if not raw.title:
        found.append(
            Problem(
                "title-missing",
                "a recipe has no title",
                "it goes by the name of its file",
                "give it a title",
                severity="warning",
            )
        )
    if not raw.lines:
        found.append(
            Problem(
                "no-ingredients",
                f'"{name}" has no ingredient lines',
                "there is nothing to add up, so its numbers cannot be checked",
                "add its ingredients, one a line",
            )
        )
    needs = any(s.basis == "per_serving" for s in raw.stated)
    if needs and not _servings_known(raw):
        found.append(
            Problem(
                "servings-missing",
                f'"{name}" does not say how many servings it makes',
                "its numbers are per serving and cannot be checked without it",
                'add a yield, such as "4 servings"',
                severity="warning",
            )
        )
    if not raw.stated and "stated-unreadable" not in codes:
        found.append(
            Problem(
                "nothing-stated",
                f'"{name}" states no energy or macros',
                "its totals are computed, with nothing to compare them to",
                "add the numbers you publish, if you do",
                severity="note",
            )
        )
    return found


_BASIS_RANK = {"per_serving": 0, "per_recipe": 1, "per_100g": 2}


def _one_a_nutrient(stated: list[RawStated]) -> tuple[list[RawStated], list[Problem]]:
    """One number a nutrient: per serving before per recipe before per 100 g, the first of equals."""
    kept: dict[str, RawStated] = {}
    problems: list[Problem] = []
    for one in stated:
        before = kept.get(one.nutrient)
        if before is None:
            kept[one.nutrient] = one
            continue
        if before.basis != one.basis:
            if _BASIS_RANK[one.basis] < _BASIS_RANK[before.basis]:
                kept[one.nutrient] = one
        elif abs(before.amount - one.amount) > max(before.step, one.step):
            problems.append(
                Problem(
                    "stated-twice",
                    f'the recipe states two numbers for the same thing: "{cut(before.text, 40)}" '
                    f'and "{cut(one.text, 40)}"',
                    "the first is checked",
                    "keep one of them",
                    source_line=one.source_line,
                    severity="warning",
                )
            )
    return list(kept.values()), problems
