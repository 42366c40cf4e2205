"""Reading and safely writing the small CSV and YAML files that people own."""

from __future__ import annotations

import contextlib
import csv
import glob
import io
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from pipeline import csv_rows
from pipeline.near_names import near_names, offered
from pipeline.problems import Problem, SteelyardError, failure, input_problem
from pipeline.safe_files import DRAFT_END, draft_prefix, held, write_atomically

Row = dict[str, str]


def read_rows(path: Path, list_key: str) -> tuple[list[tuple[int, Row]], list[Problem]]:
    """Rows of a CSV or YAML file with the line each starts on; never raises.

    Args:
        path: ``.csv`` (comma or semicolon, UTF-8 or Windows-1252) or ``.yaml``/``.yml``.
        list_key: key of the list in a YAML file whose top level is a mapping.
    """
    try:
        raw = path.read_bytes()
    except OSError as fault:
        return [], [_unreadable(path, str(fault.strerror or fault))]
    text, is_utf8 = as_text(raw)
    problems = [] if is_utf8 else [input_problem("not-utf-8/own", source=path.name, file=path.name)]
    if "\0" in text:
        return [], [_unreadable(path, "it holds NUL bytes and is no text file")]
    if path.suffix.lower() in {".yaml", ".yml"}:
        return _yaml_rows(path, text, list_key, problems)
    return _csv_rows(path, text, problems)


def unread_columns(
    rows: Iterable[tuple[int, Row]], known: Sequence[str], other: Iterable[str], path: Path
) -> list[Problem]:
    """A note where a file that a person owns has columns that nothing reads: "food" for "food_id".

    Args:
        rows: of ``read_rows``.
        known: the columns as they are written; ``other``: other names that are understood.
    """
    named = dict.fromkeys(name for _, row in rows for name in row if name)
    unread = [name for name in named if name not in {*known, *other}]
    if not unread:
        return []
    near = dict.fromkeys(n for one in unread for n in near_names(one, known, most=1))
    listed, columns = (", ".join(f'"{n}"' for n in names) for names in (unread, known))
    return [input_problem(
        "own-column-unread", source=path.name, source_line=1, file=path.name, listed=listed,
        known=columns, fix=offered(near) or "nothing, if they are notes of your own",
    )]  # fmt: skip


def as_text(raw: bytes) -> tuple[str, bool]:
    """Text in UTF-8 or else Windows-1252, and whether it is the former."""
    try:
        return raw.decode("utf-8-sig"), True
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace"), False


def _csv_rows(
    path: Path, text: str, problems: list[Problem]
) -> tuple[list[tuple[int, Row]], list[Problem]]:
    first = text.lstrip("\r\n").split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    items = csv_rows.rows(csv_rows.split_lines(text), delimiter)
    header = next(items, None)
    if header is None:
        return [], problems
    if isinstance(header, csv_rows.Fault):
        why = f"its first row, on line {header.line}: {header.why}"
        return [], [*problems, _unreadable(path, why)]
    names = [name.strip().lower() for name in header.cells]
    found: list[tuple[int, Row]] = []
    faults: list[csv_rows.Fault] = []
    for item in items:
        if isinstance(item, csv_rows.Fault):
            faults.append(item)
            continue
        cells = [cell.strip() for cell in item.cells]
        if any(cells):
            if _parted_otherwise(cells, len(names), delimiter):
                at = partial(input_problem, source=path.name, source_line=item.line)
                told = at("row-other-delimiter", file=path.name, about=cells[0][:60])
                problems.append(told)
                continue
            row = dict.fromkeys(names, "") | dict(zip(names, cells, strict=False))
            found.append((item.line, row))
    return found, [*problems, *csv_rows.problems_of(faults, path.name)]


def _parted_otherwise(cells: list[str], columns: int, delimiter: str) -> bool:
    """Whether all that a row says stands in its first cell, parted by the other delimiter."""
    if columns < 2 or any(cells[1:]):
        return False
    return len(cells[0].split(";" if delimiter == "," else ",")) >= columns - 1


def _yaml_rows(
    path: Path, text: str, list_key: str, problems: list[Problem]
) -> tuple[list[tuple[int, Row]], list[Problem]]:
    import yaml  # costs 10 ms, and most collections keep CSV

    loaded, why = None, f'it holds no list under "{list_key}"'
    if len(text) > 2_000_000 or text.count("*") > 10_000:
        why = "it is too large for a hand-kept file"
    elif "&" in text and "*" in text and any(t.lstrip().startswith("&") for t in text.split(":")):
        why = "anchors and aliases are not read"
    else:
        try:
            loaded = yaml.safe_load(text)
        except (yaml.YAMLError, RecursionError) as fault:
            why = str(fault).split("\n")[0]
    if isinstance(loaded, dict):
        loaded = loaded.get(list_key, [])
    if not isinstance(loaded, list):
        return [], [*problems, _unreadable(path, why)]
    return [
        (at, {str(k).strip().lower(): _flat(v) for k, v in item.items()})
        for at, item in enumerate(loaded, start=1) if isinstance(item, dict)
    ], problems  # fmt: skip


def _flat(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ";".join(str(v) for v in value)
    return str(value).strip()


def _unreadable(path: Path, why: str) -> Problem:
    return input_problem("file-unreadable/own", source=path.name, file=path.name, why=why)


def number(text: str) -> float | None:
    """A finite number as people write it, decimal comma allowed; None when it is none."""
    text = text.strip().replace("\u00a0", "").replace(" ", "")
    if "," in text and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text.replace(",", ""))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


@contextlib.contextmanager
def locked(path: Path, wait_s: float = 10.0) -> Iterator[None]:
    """Hold ``path``'s lock, so that two writers do not overwrite each other.

    The lock is the operating system's own on a small file beside ``path``: it ends with the process
    that held it, however that ended. What a killed writer left half-written is swept away.

    Raises:
        TimeoutError: another process kept the lock for ``wait_s``.
    """
    lock = path.with_name(f".{path.name}.lock")
    lock.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(held(lock, wait_s, remove=True))
        except TimeoutError as fault:
            why = f"{path.name} is being written by another process"
            raise TimeoutError(why) from fault
        for left in path.parent.glob(f"{glob.escape(draft_prefix(path))}*{DRAFT_END}"):
            left.unlink(missing_ok=True)
        yield


def replace_row(
    path: Path,
    list_key: str,
    columns: list[str],
    is_it: Callable[[Row], bool],
    change: Callable[[Row | None], Row | None],
    *,
    names: Mapping[str, str] | None = None,
) -> tuple[Row | None, Row | None]:
    """Change one row of a CSV that people own, under its lock; all other rows stay as they are.

    The file is read again under the lock, so that what others wrote meanwhile is kept. The row keeps
    its place and its further columns; a new one goes to the end.

    Args:
        path: the CSV; made with a header when missing.
        list_key: see ``read_rows``.
        columns: the header of a new file; columns the file has beyond them are kept.
        is_it: whether a row is the one meant. Of several the last counts and the others go.
        change: gets that row (None when there is none) and returns what shall stand in its place,
            None for nothing. It may raise to leave all as it was.
        names: other headers → the column they stand for.

    Returns:
        The row before and after.

    Raises:
        SteelyardError: the file cannot be read or is no CSV; it is left as it is.
        TimeoutError: another process holds the file.
        OSError: the file cannot be written.
    """
    if path.suffix.lower() in {".yaml", ".yml"}:
        raise failure("not-written-to-yaml", source=path.name, name=path.name, stem=path.stem)
    with locked(path):
        found, problems = read_rows(path, list_key) if path.is_file() else ([], [])
        lost = next((p for p in problems if p.severity == "error"), None)
        if lost is not None:  # writing would lose what cannot be read
            why = f"{lost.why.split(';')[0]}; the file was left as it is"
            raise SteelyardError(replace(lost, why=why))
        rows = [{(names or {}).get(k, k): v for k, v in row.items()} for _, row in found]
        at = [i for i, row in enumerate(rows) if is_it(row)]
        before = rows[at[-1]] if at else None
        after = change(None if before is None else dict(before))
        if after is not None:
            after = {**(before or {}), **after}
        if after == before:
            return before, after
        kept = [row for i, row in enumerate(rows) if i not in at]
        if after is not None:
            kept.insert(at[-1] - len(at) + 1 if at else len(kept), after)
        more = dict.fromkeys(c for row in kept for c in row if c not in columns)
        write_atomically(path, csv_text([*columns, *more], kept))
        return before, after


def csv_text(columns: list[str], rows: list[Row]) -> str:
    """CSV with a header, one line per row, newline-terminated."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
