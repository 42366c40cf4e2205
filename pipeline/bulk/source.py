"""Which inputs are streamed, and how they are cut into parts.

A table (CSV, Parquet) or JSON lines is read by DuckDB, out of core, and its rows are given the
number of their recipe and of their part. Every other file of the collection is read whole by the
intake stage, many files to a part.
"""

from __future__ import annotations

import codecs
import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pipeline import csv_rows
from pipeline.problems import Problem, input_problem

if TYPE_CHECKING:
    from pipeline.intake.files import SourceFile

Kind = Literal["csv", "parquet", "jsonl", "files"]

#: From this size on a table is streamed by ``steelyard verify`` without being asked.
STREAM_BYTES = 50 * 1024 * 1024
#: ... or from so many recipes on, as far as their number can be known at a glance.
STREAM_RECIPES = 20_000
#: Below this size a table is read whole inside a bulk run too: one reader, one set of messages.
SMALL_BYTES = 1024 * 1024
#: Files of their own a part, at most: to read a page takes as long as to judge ten recipes.
PART_FILES = 500
_TABLES = frozenset({".csv", ".tsv", ".tab", ".parquet", ".pq", ".jsonl", ".ndjson"})
_JSON_LINES = frozenset({".jsonl", ".ndjson"})
#: What a text is taken for that is not UTF-8 and bears no mark.
LEGACY = "Windows-1252"
_BLOCK = 8 * 1024 * 1024
_SNIFF = 64 * 1024


@dataclass(frozen=True, slots=True)
class Source:
    """One streamed file, or a batch of small ones.

    Attributes:
        kind: how it is read.
        source: name in messages, relative to the collection.
        paths: the files; one for a streamed source.
        sources: their names in messages.
        digests: content of each, BLAKE2b.
        columns: header of a table.
        delimiter: of a CSV file.
        lead: empty lines above the header.
        encoding: "" for UTF-8, else what the file was found to be in.
        named: which files a person named themselves (silence about those would be wrong).
    """

    kind: Kind
    source: str
    paths: tuple[str, ...]
    sources: tuple[str, ...]
    digests: tuple[str, ...]
    columns: tuple[str, ...] = ()
    delimiter: str = ","
    lead: int = 0
    encoding: str = ""
    named: tuple[bool, ...] = ()

    @classmethod
    def from_json(cls, row: dict[str, Any]) -> Source:
        """A source as it was written, lists as tuples again."""
        values: Any = {k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}
        return cls(**values)

    def as_json(self) -> dict[str, object]:
        """What the manifest keeps; the places of the files apart, which may move."""
        found = asdict(self)
        del found["paths"]
        return found


@dataclass(slots=True)
class Sources:
    """What a bulk run reads, and what was wrong on the way."""

    root: Path
    sources: list[Source] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    bytes: int = 0


def should_stream(paths: Sequence[str | Path] | str | Path) -> bool:
    """Whether a collection is better read in parts: a table of more than 50 MB or 20,000 recipes.

    Looks at names, sizes and a few bytes only; costs microseconds for an ordinary collection.
    """
    given = [paths] if isinstance(paths, (str, Path)) else list(paths)
    total = 0
    for one in given:
        path = Path(one)
        if str(one) == "-":
            continue
        try:
            if path.is_dir():
                found = [p for p in path.iterdir() if p.suffix.lower() in _TABLES]
            else:
                found = [path] if path.suffix.lower() in _TABLES else []
            for file in found:
                size = file.stat().st_size
                total += size
                if total > STREAM_BYTES or (size > SMALL_BYTES and _recipes(file) > STREAM_RECIPES):
                    return True
        except OSError:
            continue
    return False


def _recipes(path: Path) -> float:
    """How many recipes a file holds, guessed from its size and its beginning."""
    if path.suffix.lower() in (".parquet", ".pq"):
        import duckdb

        try:
            with duckdb.connect() as con:
                row = con.execute(
                    "select sum(num_rows) from (select distinct file_name, num_rows from"
                    " parquet_file_metadata($path))",
                    {"path": str(path)},
                ).fetchone()
        except duckdb.Error:
            return 0.0
        return float(row[0] or 0) / 10 if row else 0.0
    with path.open("rb") as handle:
        head = handle.read(_SNIFF)
    lines = head.count(b"\n") or 1
    rows = path.stat().st_size / (len(head) / lines)
    return rows if path.suffix.lower() in _JSON_LINES else rows / 10


def find_sources(
    files: Sequence[SourceFile], root: Path, *, small: int = SMALL_BYTES, batch: int = PART_FILES
) -> Sources:
    """Sort the files of a collection into streamed ones and batches of small ones.

    Args:
        files: in the order of the collection.
        root: its root.
        small: tables up to this size are read whole.
        batch: small files a part, at most.
    """
    out = Sources(root)
    waiting: list[tuple[SourceFile, str]] = []

    def flush() -> None:
        for first, end in even(len(waiting), batch):
            some = waiting[first:end]
            out.sources.append(
                Source(
                    "files", some[0][0].source, tuple(str(f.path) for f, _ in some),
                    tuple(f.source for f, _ in some), tuple(d for _, d in some),
                    named=tuple(f.named for f, _ in some),
                )
            )  # fmt: skip
        waiting.clear()

    for file in files:
        made: Source | None = None
        try:
            size = file.path.stat().st_size
            out.bytes += size
            streamed = _streamed(file) if size > small else None
            digest, encoding = _digest(file.path, text=streamed in ("csv", "jsonl"))
            if streamed is not None:
                made = _as_source(file, streamed, digest, encoding)
        except OSError:
            digest = "unreadable"  # the intake stage says why
        if made is None:
            waiting.append((file, digest))
            continue
        flush()
        out.sources.append(made)
        if made.encoding == LEGACY:  # a byte order mark leaves nothing to guess
            out.problems.append(
                input_problem("not-utf-8/large", source=file.source, encoding=made.encoding)
            )
    flush()
    return out


def even(total: int, most: int) -> list[tuple[int, int]]:
    """Stretches of at most ``most``, all alike and even in number, so that two workers end together.

    Returns:
        The first place of each, and the place after its last.
    """
    count = -(-total // most)
    count += count > 1 and count % 2
    return [(n * total // count, (n + 1) * total // count) for n in range(count)]


def _streamed(file: SourceFile) -> Kind | None:
    """How a large file is streamed; None when it has to be read whole."""
    ending = file.path.suffix.lower()
    with file.path.open("rb") as handle:
        head = handle.read(_SNIFF)
    if head.startswith(b"PAR1"):
        return "parquet"
    if ending in (".csv", ".tsv", ".tab"):
        return "csv"
    if ending in _JSON_LINES or (ending == ".json" and _json_lines(head)):
        return "jsonl"
    return None


def _json_lines(head: bytes) -> bool:
    """Whether each of the first lines is a JSON object of its own."""
    lines = [line for line in head.split(b"\n")[:-1] if line.strip()][:3]
    if len(lines) < 2:
        return False
    try:
        return all(isinstance(json.loads(line), dict) for line in lines)
    except (ValueError, RecursionError):
        return False


def _digest(path: Path, *, text: bool) -> tuple[str, str]:
    """BLAKE2b of a file, and its encoding when it is text and not UTF-8."""
    made = hashlib.blake2b(digest_size=16)
    decoder = codecs.getincrementaldecoder("utf-8")()
    encoding = ""
    first = True
    with path.open("rb") as handle:
        while block := handle.read(_BLOCK):
            made.update(block)
            if text and not encoding:
                if first and block[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
                    encoding = "utf-16"
                elif not block.isascii() or decoder.getstate()[0]:
                    try:
                        decoder.decode(block)
                    except UnicodeDecodeError:
                        encoding = LEGACY
            first = False
    return made.hexdigest(), encoding


def _as_source(file: SourceFile, kind: Kind, digest: str, encoding: str) -> Source | None:
    """The facts of a streamed file; None when its head names no columns known here."""
    from pipeline.intake.tables import table

    one = Source(kind, file.source, (str(file.path),), (file.source,), (digest,), encoding=encoding)
    if kind == "jsonl":
        return replace(one, columns=("json",))
    if kind == "parquet":
        names = _parquet_columns(file.path)
        if names is None or table.layout_of(names) is None:
            return None
        return replace(one, columns=tuple(names))
    with file.path.open("rb") as handle:
        raw = handle.read(_SNIFF)
    head = raw.decode({"": "utf-8-sig", LEGACY: "cp1252"}.get(encoding, encoding), "ignore")
    delimiter = table.sniff_delimiter(head)
    if delimiter is None:
        return None
    lead = head[: len(head) - len(head.lstrip("\n\r \ufeff"))].count("\n")
    names = table.header_of(head, delimiter)
    return replace(one, columns=tuple(names), delimiter=delimiter, lead=lead)


def _parquet_columns(path: Path) -> list[str] | None:
    import duckdb

    try:
        with duckdb.connect() as con:
            result = con.execute("select * from read_parquet($path) limit 0", {"path": str(path)})
            return [str(d[0]) for d in result.description or ()]
    except duckdb.Error:
        return None


def utf8_copy(source: Source, target: Path) -> None:
    """Write a file of another encoding as UTF-8, block by block."""
    name = "cp1252" if source.encoding == LEGACY else source.encoding
    with (
        open(source.paths[0], encoding=name, errors="replace", newline="") as old,
        target.open("w", encoding="utf-8", newline="") as new,
    ):
        while block := old.read(_BLOCK):
            new.write(block)


def repaired(source: Source, path: Path, target: Path) -> tuple[Path, list[csv_rows.Fault]]:
    """A CSV file as DuckDB reads it as the one reader does, and what in it is no row.

    Nothing is copied when every row is written as RFC 4180 wants it and no line is blank. Else the
    copy keeps every row on its line: a blank line becomes a row of empty cells, and lines that are
    no row become the row that stands for them.

    Args:
        source: a CSV source.
        path: its file, in UTF-8.
        target: where a copy is written when one is needed.
    """
    with path.open(encoding="utf-8-sig", errors="replace") as handle:
        if csv_rows.all_plain(handle, source.delimiter, lead=source.lead):
            return path, []
    faults: list[csv_rows.Fault] = []
    as_it_is = True
    line = 1 + source.lead
    for item in _items(source, path):
        fault = isinstance(item, csv_rows.Fault)
        if isinstance(item, csv_rows.Fault):
            faults.append(item)
        as_it_is = as_it_is and not fault and item.line == line and getattr(item, "plain", True)
        line = item.line + getattr(item, "lines", 1)
    if as_it_is:
        return path, faults
    with target.open("w", encoding="utf-8", newline="") as out:
        out.writelines(f"{line}\n" for line in _repaired_lines(source, path))
    return target, faults


def _items(source: Source, path: Path) -> Iterator[csv_rows.Row | csv_rows.Fault]:
    with path.open(encoding="utf-8-sig", errors="replace") as handle:
        lines = (line.rstrip("\n") for line in handle)
        yield from csv_rows.rows(lines, source.delimiter)


def _repaired_lines(source: Source, path: Path) -> Iterator[str]:
    from pipeline.intake.tables.table import stand_in

    empty = source.delimiter * (len(source.columns) - 1)
    line = 1
    for item in _items(source, path):
        yield from [empty if line > source.lead else ""] * (item.line - line)
        if isinstance(item, csv_rows.Fault):
            cells = stand_in(item, source.columns, source.delimiter)
            yield csv_rows.write_row(cells, source.delimiter)
            yield from [empty] * (item.last - item.line)
            line = item.last + 1
        else:
            yield csv_rows.write_row(item.cells, source.delimiter)
            line = item.line + item.lines


# --- rows ---------------------------------------------------------------------------------------


def rows_query(source: Source) -> str:
    """SQL that reads the rows of a streamed source as ``row_no, c0, c1 ...`` in file order."""
    names = [f"c{at}" for at in range(len(source.columns))]
    if source.kind == "parquet":
        shown = ", ".join(
            f'"{name.replace(chr(34), chr(34) * 2)}" as {c}'
            for name, c in zip(source.columns, names, strict=True)
        )
        return f"select row_number() over () - 1 as row_no, {shown} from read_parquet($path)"
    if source.kind == "jsonl":
        return (
            "select row_number() over () - 1 as row_no, c0 from read_csv($path, delim = '\x01',"
            " quote = '', escape = '', header = false, columns = {'c0': 'varchar'},"
            " auto_detect = false, strict_mode = false, max_line_size = 67108864,"
            " encoding = 'utf-8')"
        )
    columns = ", ".join(f"'{name}': 'varchar'" for name in names)
    return (
        "select row_number() over () - 1 as row_no, * from read_csv($path,"
        f" delim = '{source.delimiter}', quote = '\"', escape = '\"', header = true,"
        f" skip = {source.lead}, columns = {{{columns}}}, auto_detect = false,"
        " null_padding = true, strict_mode = true, parallel = false, store_rejects = true,"
        " ignore_errors = true, max_line_size = 16000000, encoding = 'utf-8')"
    )


def key_query(source: Source) -> str:
    """SQL expression of a row's recipe key over ``c0, c1 ...``; a row of its own when NULL."""
    from pipeline.intake.tables.table import layout_of

    layout = layout_of(source.columns) if source.kind in ("csv", "parquet") else None
    if layout is None or layout.kind == "wide":
        return ""

    def cell(role: str) -> str:
        at = layout.roles.get(role)
        return "''" if at is None else f"trim(coalesce(c{at}::varchar, ''), e' \\t\\r\\n')"

    own, title, creator = cell("id"), cell("title"), cell("creator")
    return (
        f"case when {own} <> '' then 'i' || {own}"
        f" when {title} <> '' then 't' || {title} || chr(31) || {creator} end"
    )
