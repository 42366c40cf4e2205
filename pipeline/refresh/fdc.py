"""FoodData Central CSV releases as a composition table of a snapshot.

Files are read by column name straight from the extracted folder; unknown columns are ignored,
missing required ones are listed and refused. See ``sql/fdc_*.sql`` for what is made of them.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.problems import failure
from pipeline.resources import data_path, shared_path, shared_rows
from pipeline.snapshot.sources import SourceFacts, run_script, set_variables

if TYPE_CHECKING:
    import duckdb

KINDS = ("foundation", "sr_legacy", "survey", "branded")
#: Foods whose nutrients are put side by side in one go; see ``sql/fdc_wide.sql``.
FOODS_AT_A_TIME = 200_000


@dataclass(frozen=True, slots=True)
class Table:
    """One CSV of a bundle: the columns read of it, by name in any case."""

    required: dict[str, str]
    optional: dict[str, str] = field(default_factory=dict)
    kinds: tuple[str, ...] = ()  # needed when one of these is loaded; KINDS for always

    @property
    def columns(self) -> dict[str, str]:
        return {**self.required, **self.optional}


def _tables() -> dict[str, Table]:
    """File of a release → what is read of it (``shared/fdc_files.csv``)."""
    made: dict[str, Table] = {}
    for row in shared_rows("fdc_files.csv"):
        kinds = KINDS if row["for"] == "any" else tuple(filter(None, row["for"].split(";")))
        table = made.setdefault(row["file"], Table({}, {}, kinds))
        (table.required if row["required"] else table.optional)[row["column"]] = row["type"]
    return made


TABLES = _tables()
#: Views are called fdc_NAME but for these.
_VIEW = {
    "food_nutrient_conversion_factor": "fdc_conversion",
    "food_calorie_conversion_factor": "fdc_calorie_factor",
    "food_protein_conversion_factor": "fdc_protein_factor",
}
#: What an archive may be asked for; everything else in it stays packed.
FILE_NAMES = frozenset(f"{name}.csv" for name in TABLES)
_NAME = re.compile(
    r"FoodData_Central_(?:(?P<kind>[a-z_]+?)_food_)?csv_(?P<date>\d{4}-\d{2}(?:-\d{2})?)"
)


def release_of(name: str) -> str:
    """The date in an official file or folder name, "" when there is none."""
    found = _NAME.search(name)
    return found["date"] if found else ""


@dataclass(frozen=True, slots=True)
class FdcBundle:
    """An extracted bundle.

    Attributes:
        folder: where the CSV files lie, in it or in one folder below.
        kinds: which of :data:`KINDS` to load of it, preferred first.
        release: date of the release as its publisher writes it.
        sha256: of the archive it came in.
        url: where it came from, "" for a local file.
    """

    folder: Path
    kinds: tuple[str, ...]
    release: str
    sha256: str
    url: str = ""

    @property
    def facts(self) -> SourceFacts:
        """Facts known before loading."""
        name = {"survey": "fndds"}.get(self.kinds[0], self.kinds[0])
        return SourceFacts(
            source=name,
            title=f"USDA FoodData Central ({', '.join(self.kinds).replace('_', ' ')})",
            publisher="US Department of Agriculture, Agricultural Research Service",
            release=self.release or "undated",
            release_id=self.release or "undated",
            licence="CC0 1.0, public domain",
            sha256=self.sha256,
            url=self.url,
        )

    def load(self, con: duckdb.DuckDBPyConnection, preference: int) -> SourceFacts:
        """Load the bundle; see ``sql/fdc_*.sql``.

        Raises:
            SteelyardError: a file is missing, lacks required columns, or cannot be read.
        """
        files = self.check_headers()
        for name, table in TABLES.items():
            view = _VIEW.get(name, f"fdc_{name}")
            con.execute(f"create temp view {view} as {_reading(table, files.get(name))}")
        con.execute(
            "create temp view fdc_wweia_category as select wweia_food_category, "
            "wweia_food_category_description as description from fdc_wweia_food_category"
        )
        set_variables(
            con,
            preference=preference,
            kinds=list(self.kinds),
            fdc_nutrients_path=str(shared_path("fdc_nutrients.csv")),
            food_des_path=str(data_path("sr28") / "FOOD_DES.txt.gz"),
        )
        with _told_as_problems(self.folder):
            run_script(con, "fdc_nutrient_map")
            run_script(con, "fdc_pick")
            foods = int(con.sql("select count(*) from fdc_pick").fetchall()[0][0])
            con.execute(f"create temp view fdc_wanted as {_wanted(con, foods)}")
            set_variables(con, **_numbers(con))
            for script in ("fdc_amount", "fdc_wide"):
                run_script(con, script)
            first, last = _range(con)
            for start in range(first, last + 1, FOODS_AT_A_TIME):
                set_variables(con, first_no=start, last_no=start + FOODS_AT_A_TIME - 1)
                con.execute("insert into fdc_macro from fdc_wide('amount')")
            set_variables(con, first_no=first, last_no=last)
            for script in (
                "fdc_chosen",
                "fdc_factors",
                "fdc_derived",
                "snapshot_food_des",
                "fdc_foods",
            ):
                run_script(con, script)
        _sweep(con)
        portions = "food_portion" in files or "branded" in self.kinds
        return replace(self.facts, foods=foods, measures=portions)

    def check_headers(self) -> dict[str, _File]:
        """Find the files and read their first lines.

        Returns:
            Table name → file and its columns as written.

        Raises:
            SteelyardError: a required file or column is missing; the problem lists all of them.
        """
        found: dict[str, _File] = {}
        missing: list[str] = []
        for name, table in TABLES.items():
            needed = any(kind in table.kinds for kind in self.kinds)
            path = _find(self.folder, f"{name}.csv")
            if path is None:
                if needed:
                    missing.append(f"{name}.csv: no such file")
                continue
            columns = _header(path)
            lower = {column.lower() for column in columns}
            lacks = [column for column in table.required if column.lower() not in lower]
            if lacks and (needed or lower):
                missing.append(f"{name}.csv: no column {', '.join(lacks)}")
                continue
            found[name] = _File(path, tuple(columns))
        if missing:
            source, listed = self.folder, "; ".join(missing)
            raise failure(
                "fdc-files-incomplete", source=str(source), folder=source.name, first=missing[0],
                missing=listed,
            )  # fmt: skip
        return found


@dataclass(frozen=True, slots=True)
class _File:
    path: Path
    columns: tuple[str, ...]


def _find(folder: Path, name: str) -> Path | None:
    """A file of the bundle, in the folder or in one below it (the zip holds one folder)."""
    here = folder / name
    if here.is_file():
        return here
    return next((p for p in sorted(folder.glob(f"*/{name}")) if p.is_file()), None)


def _header(path: Path) -> list[str]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as handle:
            return [column.strip() for column in next(csv.reader(handle), [])]
    except (UnicodeDecodeError, csv.Error) as fault:
        raise failure(
            "fdc-file-unreadable", source=str(path), source_line=1, name=path.name, said=fault
        ) from fault


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _reading(table: Table, file: _File | None) -> str:
    """A select of the table's columns by name; of a file that is not there, no row."""
    written = {column.lower(): column for column in reversed(file.columns if file else ())}
    wanted: dict[str, str] = {}
    picked = []
    for name, kind in table.columns.items():
        own = written.get(name.lower())
        picked.append(f'"{own}" as "{name}"' if own is not None else f'null::{kind} as "{name}"')
        if own is not None:
            wanted[own] = kind
    if file is None:
        return f"select {', '.join(picked)} where false"
    names: list[str] = []
    for place, column in enumerate(file.columns):  # a second column of one name is none of ours
        names.append(column if column and column not in names else f"unnamed {place}")
    columns = ", ".join(
        f"{_quoted(name)}: {_quoted(wanted.get(name, 'varchar'))}" for name in names
    )
    return (
        f"select {', '.join(picked)} from read_csv({_quoted(str(file.path))}, delim = ',', quote = '\"', "
        f"escape = '\"', header = true, auto_detect = false, null_padding = false, "
        f"columns = {{{columns}}})"
    )


@contextmanager
def _told_as_problems(folder: Path) -> Iterator[None]:
    """A file that DuckDB cannot read is a problem with file and line, not a traceback."""
    import duckdb

    try:
        yield
    except (duckdb.InvalidInputException, duckdb.ConversionException) as fault:
        text = str(fault)
        line = re.search(r"on Line: (\d+)|Line:? (\d+)", text)
        file = re.search(r"file ?= ?(\S+)", text)
        name = Path(file[1]).name if file else folder.name
        raise failure(
            "fdc-file-malformed",
            source=name,
            source_line=int(line[1] or line[2]) if line else None,
            name=name,
            said=" ".join(text.split())[:400],
        ) from fault


def _wanted(con: duckdb.DuckDBPyConnection, foods: int) -> str:
    """Rows of food_nutrient.csv to read: all when most foods are loaded, else those of them."""
    listed = int(con.sql("select count(*) from fdc_food").fetchall()[0][0])
    if 2 * foods > listed:
        return "from fdc_food_nutrient"
    return "from fdc_food_nutrient where fdc_id in (select fdc_id from fdc_pick)"


_MACROS = {
    "kcal": "ENERC_KCAL", "protein": "PROCNT", "carbs": "CHOCDF", "fat": "FAT", "fiber": "FIBTG",
    "sugar": "SUGAR", "satfat": "FASAT", "sodium": "NA", "alcohol": "ALC", "water": "WATER",
    "ash": "ASH",
}  # fmt: skip


def _numbers(con: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Numbers that stand for the macros in this snapshot."""
    number = dict(con.sql("select nutrient, nutrient_no from nutrient").fetchall())
    found = {f"no_{name}": number[tag] for name, tag in _MACROS.items()}
    return {**found, "first_no": 0, "last_no": 0}


def _range(con: duckdb.DuckDBPyConnection) -> tuple[int, int]:
    """Lowest and highest food_no among the amounts of the bundle, an empty range for none."""
    found = con.sql(
        "select min(food_no), max(food_no) from amount where food_no > getvariable('food_base')"
    ).fetchall()[0]
    return (1, 0) if found[0] is None else (int(found[0]), int(found[1]))


def _sweep(con: duckdb.DuckDBPyConnection) -> None:
    """Drop what loading left, so that another bundle can follow."""
    found = con.sql(
        "select table_name, table_type from information_schema.tables "
        "where table_name like 'fdc\\_%' escape '\\'"
    ).fetchall()
    for name, kind in found:
        con.execute(f'drop {"view" if kind == "VIEW" else "table"} if exists "{name}"')
    con.execute("drop macro table if exists fdc_wide")


def load_order(kinds: Sequence[str]) -> tuple[str, ...]:
    """Known kinds in the order given, each once.

    Raises:
        SteelyardError: one is unknown.
    """
    for kind in kinds:
        if kind not in KINDS:
            raise failure("source-unknown", name=kind, known=", ".join(KINDS))
    return tuple(dict.fromkeys(kinds))
