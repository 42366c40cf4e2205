"""What is wrong with an input, stated once and rendered many ways.

A ``Problem`` is data; the terminal, ``problems.csv``, JUnit, SARIF and the page are renderers
over it. The first line of the rendered form stands alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, cast

from pipeline.exit_codes import Exit
from pipeline.resources import shared_rows
from pipeline.tables import PROBLEM

if TYPE_CHECKING:
    import pandas as pd

Severity = Literal["error", "warning", "note"]

PROBLEM_COLUMNS = PROBLEM


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of the input: what, where, why, and how to fix it.

    Attributes:
        code: stable, kebab-case; names the pattern found, never the remedy.
        what: one line that stands alone, the offending value in quotes.
        why: what the tool did about it, and why it could not do better.
        fix: what the person can do.
        source: file relative to the collection, ``-`` for standard input, "" when none.
        source_line: 1-based line in that file, or None when the fault has no line.
        recipe_id: the recipe it belongs to, "" when none.
        line_no: 1-based ingredient line of that recipe, or None.
        severity: ``error`` lost something, ``warning`` changed something, ``note`` is worth a look.
        text: the offending text, cut to a readable length by the maker.
    """

    code: str
    what: str
    why: str = ""
    fix: str = ""
    source: str = ""
    source_line: int | None = None
    recipe_id: str = ""
    line_no: int | None = None
    severity: Severity = "error"
    text: str = ""

    @property
    def where(self) -> str:
        """``file:line`` as an editor understands it; of a document, in what it counts."""
        return place(self.source, self.source_line, self.recipe_id)

    def render(self) -> str:
        """The terminal form: a first line that stands alone, then text, why and fix."""
        head = f"{self.where}: " if self.where else ""
        out = [f"{head}{self.what} [{self.code}]"]
        if self.text:
            out.append(f"  | {self.text}")
        if self.why:
            out.append(f"  why: {self.why}")
        if self.fix:
            out.append(f"  fix: {self.fix}")
        return "\n".join(out)


#: What the numbers of lines count in files that have no lines of text.
_COUNTED = {".pdf": "page", ".docx": "paragraph", ".odt": "paragraph", ".rtf": "paragraph"}


def place(source: str, line: int | None, recipe_id: str = "") -> str:
    """Where a line stands, in words: ``soup.txt:4``, ``book.pdf, page 12``.

    Args:
        source: the file; "" gives "".
        line: its number there, None for the file as a whole.
        recipe_id: of an e-book it names the chapter that ``line`` is of.
    """
    ending = source[source.rfind(".") :].lower()
    if ending == ".epub":
        chapter = recipe_id.removeprefix(f"{source}#") if recipe_id.startswith(f"{source}#") else ""
        chapter = chapter.partition("#")[0]
        at = f" line {line}" if line is not None and chapter else ""
        return f"{source}, {chapter}{at}" if chapter else source
    if not source or line is None:
        return source
    counted = _COUNTED.get(ending)
    return f"{source}, {counted} {line}" if counted else f"{source}:{line}"


def place_of(row: Mapping[Any, Any]) -> str:
    """``place`` of a row of ``problems_frame``; a line that is unknown is missing, NaN or ""."""
    line: Any = row.get("source_line")
    unknown = line is None or line == "" or line != line
    recipe_id = str(row.get("recipe_id") or "")
    return place(str(row.get("source") or ""), None if unknown else int(line), recipe_id)


def problems_frame(problems: Iterable[Problem]) -> pd.DataFrame:
    """One row per problem, columns ``PROBLEM_COLUMNS``; an empty frame keeps its columns."""
    return PROBLEM.frame(tuple(getattr(p, name) for name in PROBLEM) for p in problems)


def input_problem(
    code: str,
    *,
    source: str = "",
    source_line: int | None = None,
    recipe_id: str = "",
    line_no: int | None = None,
    severity: Severity | None = None,
    text: str = "",
    **values: object,
) -> Problem:
    """A problem in the words of a table: ``shared/input_problems.csv`` for what readers say of files
    and recipes, ``shared/command_problems.csv`` for what else a command says or ends with.

    Args:
        code: row of a table; what stands after a slash tells apart rows of one code.
        source, source_line, recipe_id, line_no, text: as in ``Problem``.
        severity: in place of the table's.
        values: by the names in braces of the row; ``source`` may be one of them.
    """
    row = _told()[code]
    values["source"] = source
    what, why, fix = (row[part].format(**values) for part in ("what", "why", "fix"))
    return Problem(
        code.partition("/")[0], what, why, fix, source, source_line, recipe_id, line_no,
        severity or cast(Severity, row["severity"]), text,
    )  # fmt: skip


def line_problem(
    code: str,
    text: str,
    match_reason: str,
    weigh_reason: str,
    *,
    source: str,
    source_line: int | None,
    recipe_id: str,
    line_no: int,
) -> Problem:
    """The problem of one ingredient line, in the words of ``shared/line_problems.csv``.

    Args:
        code: as the lines and weigh stages give it.
        text: the line as written.
        match_reason, weigh_reason: what those stages say of it, put where the table asks for it.
        source, source_line, recipe_id, line_no: where it stands.
    """
    row = _told("line_problems.csv")[code]
    why = row["why"].replace("{match}", match_reason).replace("{weigh}", weigh_reason)
    return Problem(
        code, row["what"], why, row["fix"], source, source_line, recipe_id, line_no,
        cast(Severity, row["severity"]), text[:200],
    )  # fmt: skip


@cache
def _told(*files: str) -> dict[str, dict[str, str]]:
    """Rows of the tables of problems, by code."""
    files = files or ("input_problems.csv", "command_problems.csv")
    return {row["code"]: row for name in files for row in shared_rows(name)}


_OF_THE_MACHINE = frozenset(
    {"IOException", "FatalException", "InternalException", "OutOfMemoryException",
     "ConnectionException", "InterruptException", "HTTPException"}
)  # fmt: skip
_DISK_WORDS = ("No space left", "Could not write file", "Disk quota", "Read-only file system")


def is_of_the_disk(fault: Exception) -> bool:
    """Whether a disk, a folder or the memory failed: ``OSError``, or DuckDB's own words for it."""
    if isinstance(fault, (OSError, MemoryError)):
        return True
    kinds = _kinds(fault)
    if kinds & {"IOException", "FatalException", "OutOfMemoryException"}:
        return True
    return "Error" in kinds and any(word in str(fault) for word in _DISK_WORDS)


def is_of_the_input(fault: Exception) -> bool:
    """Whether an error came of the values at hand, and not of files, memory or the machine.

    Such a one costs what it was met in, a line or a recipe; any other ends the command.
    """
    if isinstance(fault, (SteelyardError, NameError, ImportError)) or is_of_the_disk(fault):
        return False
    return not _kinds(fault) & _OF_THE_MACHINE


def _kinds(fault: Exception) -> set[str]:
    """Names of DuckDB's exceptions that a fault is of; none of another library's."""
    return {
        base.__name__
        for base in type(fault).__mro__
        if base.__module__.partition(".")[0] in ("duckdb", "_duckdb")
    }


class SteelyardError(Exception):
    """A fault that ends the command; carries the ``Problem`` to print, never a traceback."""

    def __init__(self, problem: Problem, exit_code: int = 2) -> None:
        super().__init__(problem.what)
        self.problem = problem
        self.exit_code = exit_code


def failure(
    code: str, *, source: str = "", source_line: int | None = None, **values: Any
) -> SteelyardError:
    """A fault that ends the command, in the words and with the exit code of its row.

    Args:
        code: row of ``shared/command_problems.csv``.
        source, source_line, values: as in :func:`input_problem`.
    """
    problem = input_problem(code, source=source, source_line=source_line, **values)
    return SteelyardError(problem, Exit[_told()[code]["exit"] or "USAGE"])
