"""Any national composition table given as CSV, described by a small mapping file.

``shared/national/example.toml`` is the worked mapping; every key is explained there.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.problems import SteelyardError, failure
from pipeline.refresh.faults import read_toml
from pipeline.resources import shared_rows
from pipeline.snapshot.sources import SourceFacts, run_script, set_variables, sha256_of

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

_FACTORS = {
    ("kJ", "kcal"): 1 / 4.184, ("g", "mg"): 1e3, ("g", "ug"): 1e6, ("mg", "g"): 1e-3,
    ("mg", "ug"): 1e3, ("ug", "mg"): 1e-3, ("ug", "g"): 1e-6,
}  # fmt: skip
_EXTRA_UNITS = {"CHOAVLDF": "g", "CHOAVL": "g"}
_NEEDED = ("source", "title", "publisher", "release", "licence", "file", "code", "description")
_TAKEN = ("sr28", "sr_legacy", "foundation", "fndds", "branded", "pantry", "recipe")
_ENCODINGS = {"utf-8": "utf-8-sig", "latin-1": "latin-1", "windows-1252": "cp1252"}


def _units() -> dict[str, str]:
    """Unit of every tagname the program knows."""
    known = {r["nutrient"]: r["unit"] for r in shared_rows("fdc_nutrients.csv") if r["rank"] == "1"}
    return {**known, **_EXTRA_UNITS}


def _codes(column: pd.Series[str]) -> pd.Series[str]:
    """Codes as they may stand in a food_id."""
    return column.str.strip().str.replace(r"[^A-Za-z0-9._-]", "-", regex=True)


@dataclass(frozen=True, slots=True)
class NationalTable:
    """A national table and its mapping.

    Attributes:
        mapping: path of the TOML file.
        content: what it holds, checked by :func:`read_mapping`.
    """

    mapping: Path
    content: dict[str, Any]

    @property
    def files(self) -> list[Path]:
        """The table, and the portions where there are some."""
        tables = [self.content, *filter(None, [self.content.get("portions")])]
        return [self.mapping.parent / str(table["file"]) for table in tables]

    @property
    def facts(self) -> SourceFacts:
        """Facts from the mapping; the sum is over mapping, table and portions."""
        sums = "".join(map(sha256_of, (self.mapping, *self.files)))
        release = str(self.content["release"])
        return SourceFacts(
            **{name: self.content[name] for name in ("source", "title", "publisher", "licence")},
            release=release,
            release_id=re.sub(r"[^A-Za-z0-9.-]+", "-", release),
            sha256=hashlib.sha256(sums.encode()).hexdigest(),
            url=str(self.content.get("url", "")),
            measures=bool(self.content.get("portions")),
        )

    def load(self, con: duckdb.DuckDBPyConnection, preference: int) -> SourceFacts:
        """Load the table; see ``sql/national_load.sql``.

        Raises:
            SteelyardError: a mapped column is not in the file, a code stands twice, a cell is
                neither a number nor one of the mapping's words, or the text is not in the encoding
                said.
        """
        wide = self._read(self.files[0])
        self._check(wide)
        cells = self._cells(wide)
        con.register("national_cell", cells)
        con.register("national_portion", self._portions())
        content = self.content
        set_variables(
            con,
            source=content["source"],
            preference=preference,
            per=content.get("per", "100 g"),
            decimal=content.get("decimal", "."),
            missing_words=[str(w) for w in content.get("missing", [""])],
            trace_words=[str(w) for w in content.get("trace", [])],
        )
        run_script(con, "national_load")
        run_script(con, "snapshot_amounts")
        unreadable = con.sql(
            "select line, nutrient, cell from national_amount where unreadable order by line limit 5"
        ).fetchall()
        con.execute("drop table national_amount")
        con.unregister("national_cell")
        con.unregister("national_portion")
        if unreadable:
            line, tag, cell = unreadable[0]
            raise self._fault(
                "national-cell-unreadable",
                int(line),
                cell=cell,
                column=content["nutrients"][tag]["column"],
                listed="; ".join(f'line {at}: {name} "{text}"' for at, name, text in unreadable),
            )
        return replace(self.facts, foods=cells["line"].nunique())

    def _check(self, wide: pd.DataFrame) -> None:
        """Whether the file has the mapped columns, and each code once."""
        content = self.content
        named = [content["code"], content["description"], *filter(None, [content.get("category")])]
        columns = (spec["column"] for spec in content["nutrients"].values())
        lacking = [c for c in (*named, *columns) if c not in wide.columns]
        if lacking:
            raise self._fault(
                "national-column-missing",
                column=lacking[0],
                missing=", ".join(lacking),
                there=", ".join(map(str, wide.columns)),
                mapping=self.mapping.name,
            )
        code = _codes(wide[content["code"]])
        twice = code[code.duplicated() & (code != "")]
        if len(twice):
            line, first = int(twice.index[0]) + 2, twice.iloc[0]
            raise self._fault("national-code-twice", line, food_code=first, count=len(twice))

    def _cells(self, wide: pd.DataFrame) -> pd.DataFrame:
        """One row per food and nutrient, of foods that have a code and a description."""
        import pandas as pd

        content, units = self.content, _units()
        base = pd.DataFrame({
            "code": _codes(wide[content["code"]]),
            "description": wide[content["description"]].str.strip(),
            "category": wide[content["category"]].str.strip() if content.get("category") else "",
            "line": wide.index + 2,
        })  # fmt: skip
        named = (base["code"] != "") & (base["description"] != "")
        cells = [
            base[named].assign(
                nutrient=tag,
                unit=spec["unit"],
                factor=1.0 if spec["unit"] == units[tag] else _FACTORS[spec["unit"], units[tag]],
                cell=wide.loc[named, spec["column"]],
            )
            for tag, spec in content["nutrients"].items()
        ]
        return pd.concat(cells, ignore_index=True)

    def _read(self, path: Path) -> pd.DataFrame:
        import pandas as pd

        encoding = _ENCODINGS[self.content.get("encoding", "utf-8")]
        try:
            return pd.read_csv(
                path, sep=self.content.get("delimiter", ","), encoding=encoding, dtype=str,
                keep_default_na=False, na_filter=False,
            )  # fmt: skip
        except (UnicodeDecodeError, pd.errors.ParserError, OSError) as fault:
            raise self._fault("national-file-unreadable", file=path.name, said=fault) from fault

    def _portions(self) -> pd.DataFrame:
        import pandas as pd

        if not self.content.get("portions"):
            return pd.DataFrame({"code": [], "text": [], "grams": []}).astype(
                {"code": "str", "text": "str", "grams": "float64"}
            )
        path = self.files[1]
        frame = self._read(path)
        lacking = [c for c in ("code", "text", "grams") if c not in frame.columns]
        if lacking:
            code, there = "national-column-missing/portions", ", ".join(frame.columns)
            raise self._fault(code, file=path.name, column=lacking[0], there=there)
        written = frame["grams"].str.strip()
        grams = pd.to_numeric(
            written.str.replace(self.content.get("decimal", "."), ".", regex=False), errors="coerce"
        )
        wrong = frame.index[grams.isna() & ~written.isin(self.content.get("missing", [""]))]
        if len(wrong):
            code, line, cell = "national-cell-unreadable/portions", wrong[0] + 2, written[wrong[0]]
            raise self._fault(code, int(line), cell=cell, file=path.name, count=len(wrong))
        return pd.DataFrame({"code": _codes(frame["code"]), "text": frame["text"], "grams": grams})

    def _fault(self, code: str, line: int | None = None, **values: object) -> SteelyardError:
        file = self.files[0].name
        return failure(code, source=file, source_line=line, **{"file": file, **values})


def read_mapping(path: Path) -> NationalTable:
    """Read and check a mapping file.

    Raises:
        SteelyardError: it is no TOML, lacks a key, or names an unknown tagname or unit.
    """
    content, fault = read_toml(path, "national-mapping-invalid")
    lacking = [key for key in _NEEDED if not str(content.get(key, "")).strip()]
    if lacking:
        raise fault(f"lacks {', '.join(lacking)}", f"keys it has: {', '.join(content)}")
    if not re.fullmatch(r"[a-z][a-z0-9_]*", str(content["source"])):
        raise fault(
            f'calls the source "{content["source"]}"', "a-z, 0-9 and _ only, a letter first"
        )
    if content["source"] in _TAKEN:
        raise fault(f'calls the source "{content["source"]}"', "that name is taken")
    if content.get("encoding", "utf-8") not in _ENCODINGS:
        raise fault(
            f'names the encoding "{content["encoding"]}"', f"known: {', '.join(_ENCODINGS)}"
        )
    if content.get("per", "100 g") not in ("100 g", "100 ml"):
        raise fault(f'counts per "{content["per"]}"', 'known: "100 g", "100 ml"')
    nutrients = content.get("nutrients")
    if not isinstance(nutrients, dict) or not nutrients:
        raise fault("maps no nutrients", "a table [nutrients] with one line a column is needed")
    units = _units()
    for tag, spec in nutrients.items():
        if tag not in units:
            raise fault(f'maps the unknown tagname "{tag}"', f"known: {', '.join(sorted(units))}")
        if not isinstance(spec, dict) or not spec.get("column") or not spec.get("unit"):
            raise fault(f"maps {tag} without column and unit", f"it says: {spec!r}")
        if spec["unit"] != units[tag] and (spec["unit"], units[tag]) not in _FACTORS:
            raise fault(f'gives {tag} in "{spec["unit"]}"', f"{tag} is counted in {units[tag]}")
    files = [str(content["file"])]
    portions = content.get("portions")
    if portions is not None:
        if not isinstance(portions, dict) or not portions.get("file"):
            raise fault("names no file in [portions]", f"it says: {portions!r}")
        files.append(str(portions["file"]))
    for name in files:
        if not (path.parent / name).is_file():
            raise fault(f'names the file "{name}"', "there is no such file beside the mapping")
    return NationalTable(path, content)
