"""The stage's door: files and folders in, the collection's three tables and its problems out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake import files, numbers_apart
from pipeline.intake.building import STDIN, Building
from pipeline.intake.files import SourceFile
from pipeline.intake.model import Read
from pipeline.intake.reading import by_ending, read_data, read_file
from pipeline.intake.spoken import card_marks as script_marks
from pipeline.intake.spoken import cards as script_cards
from pipeline.problems import Problem, input_problem
from pipeline.settings import FILE_NAME, Settings
from pipeline.tables import READING, SCRIPT, SCRIPT_MARK

if TYPE_CHECKING:
    import pandas as pd

_YAML_PANTRIES = ("pantry.yaml", "pantry.yml")


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
        together: sources of recipes whose numbers stand elsewhere, and of those numbers.
        stated_at: where the numbers of such a recipe stand, by recipe_id ("ledger.csv:3").
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
    reading: pd.DataFrame = field(default_factory=lambda: READING.frame([]))
    together: frozenset[str] = frozenset()
    stated_at: dict[str, str] = field(default_factory=dict)


def script_frames(
    scripts: list[tuple[object, ...]], marks: list[tuple[object, ...]]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """SCRIPT and SCRIPT_MARK of their rows, typed also when empty."""
    return SCRIPT.frame(scripts).astype("object"), SCRIPT_MARK.frame(marks)


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
    settings = settings or Settings()
    given = [paths] if isinstance(paths, (str, Path)) else list(paths)
    root = files.collection_root(given)
    pantry, pantry_problem = companion(root, settings.pantry, "pantry.csv", "pantry")
    decisions, decisions_problem = companion(root, settings.decisions, "decisions.csv", "decisions")
    skip = frozenset(p for p in (pantry, decisions, root / FILE_NAME) if p is not None)
    found = files.find_files(given, follow_links=settings.follow_links, skip=skip)
    problems = [p for p in (pantry_problem, decisions_problem) if p is not None] + found.problems
    building = Building(settings.creator)
    origin: dict[str, Path] = {}
    reads: list[tuple[str, Read, str]] = []
    for file, cards in script_cards.pairs(found.files):
        read = read_file(file)
        script_marks.mark_shared_lines(read)
        origin[file.source] = file.path
        if cards is None:
            reads.append((file.source, read, ""))
            continue
        origin[cards.source] = cards.path
        reads += [(source, one, file.source) for source, one in _with_cards(file, read, cards)]
    text = ""
    if found.stdin:
        read, text = _read_stdin(stdin)
        reads.append((STDIN, read, ""))
    together = numbers_apart.join([(source, read) for source, read, _ in reads])
    for source, read, script in reads:
        problems.extend(read.problems)
        building.add(source, read, problems, script=script)
    recipe, stated, line = building.frames()
    scripts, marks = script_frames(building.scripts, building.marks)
    return Collection(
        recipe, stated, line, problems, root, pantry, decisions, origin, text, building.said_at,
        scripts, marks, READING.frame(building.readings), together,
        building.stated_at,
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
        f"correct the path in {FILE_NAME}, or remove the setting",
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
    except OSError:  # reported by ``read_file``
        text = ""
    both = script_cards.in_place_of(read, written, text, cards.source)
    yield (file.source if both is read else cards.source), both


def _read_stdin(stdin: str | bytes | None) -> tuple[Read, str]:
    if stdin is None or not stdin.strip():
        problem = input_problem("stdin-empty", source=STDIN)
        return Read(problems=[problem]), ""
    file = SourceFile(Path(STDIN), STDIN, named=True)
    data = stdin.encode("utf-8", "replace") if isinstance(stdin, str) else stdin
    if data.startswith((b"PAR1", b"PK\x03\x04", b"\xd0\xcf\x11\xe0")) or b"%PDF-" in data[:1024]:
        import tempfile

        ending = ".parquet" if data.startswith(b"PAR1") else ".xlsx"
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"stdin{ending}"
            path.write_bytes(data)
            return read_file(SourceFile(path, STDIN, named=True)), ""
    special = by_ending(file, data[: files.SNIFF_BYTES])
    if special is not None:
        return special, ""
    return read_data(file, data, stored=False)
