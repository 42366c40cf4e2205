"""Composition tables a snapshot is built from: each knows its facts and loads itself by SQL."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from pipeline.problems import failure
from pipeline.resources import data_path, sql

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class SourceFacts:
    """Where one composition table comes from; a row of the snapshot's ``source`` table.

    Attributes:
        foods: how many foods are loaded of it.
        reference: its foods are never an answer to a line; they supply measures, densities, refuse
            and expected composition for foods of other tables.
        measures: it gives household measures, so that the gate asks for them.
    """

    source: str
    title: str
    publisher: str
    release: str
    release_id: str
    licence: str
    sha256: str
    url: str = ""
    foods: int = 0
    reference: bool = False
    measures: bool = True


class Source(Protocol):
    """What the builder asks of a composition table."""

    @property
    def facts(self) -> SourceFacts:
        """Facts known before loading."""
        ...

    def load(self, con: duckdb.DuckDBPyConnection, preference: int) -> SourceFacts:
        """Fill ``food``, ``food_nutrient``, ``nutrient`` and append to ``measure_text``.

        Raises:
            SteelyardError: the files are not what they should be.
        """
        ...


def sha256_of(path: Path) -> str:
    """Hex sha256 of a file, read in pieces."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def set_variables(con: duckdb.DuckDBPyConnection, **values: Any) -> None:
    """Set DuckDB variables that the SQL files read with ``getvariable``."""
    for name, value in values.items():
        con.execute(f"set variable {name} = $value", {"value": value})


def run_script(con: duckdb.DuckDBPyConnection, name: str) -> None:
    """Run every statement of ``sql/NAME.sql``."""
    con.execute(sql(name))


@dataclass(frozen=True, slots=True)
class Sr28:
    """USDA SR28 as it travels with the program, ``data/sr28/``.

    Attributes:
        folder: where the files are, the program's own by default.
        reference: load its foods as reference only, see :class:`SourceFacts`.
    """

    folder: Path | None = None
    reference: bool = False

    @property
    def _folder(self) -> Path:
        return self.folder if self.folder is not None else data_path("sr28")

    @property
    def provenance(self) -> dict[str, Any]:
        """``PROVENANCE.toml`` of the embedded table."""
        path = self._folder / "PROVENANCE.toml"
        return tomllib.loads(path.read_text(encoding="utf-8"))

    @property
    def facts(self) -> SourceFacts:
        """Facts from the provenance file; ``sha256`` is over the sums of the stored files."""
        facts = self.provenance
        sums = "".join(file["sha256"] for file in facts["file"])
        told = ("title", "publisher", "release", "release_id", "licence")
        return SourceFacts(
            source="sr28", **{name: facts[name] for name in told},
            sha256=hashlib.sha256(sums.encode()).hexdigest(), foods=int(facts["foods"]),
            reference=self.reference,
        )  # fmt: skip

    def verify_files(self) -> None:
        """Compare the stored files with the sums in the provenance file.

        Raises:
            SteelyardError: one differs: a damaged download or an edited table.
        """
        for file in self.provenance["file"]:
            path = self._folder / file["name"]
            found = sha256_of(path) if path.is_file() else "no such file"
            if found != file["sha256"]:
                raise failure(
                    "snapshot-source-damaged",
                    source=str(path),
                    name=file["name"],
                    found=found,
                    expected=file["sha256"],
                )

    def load(self, con: duckdb.DuckDBPyConnection, preference: int) -> SourceFacts:
        """Load SR28; see ``sql/snapshot_sr28.sql``."""
        self.verify_files()
        folder = self._folder
        files = (
            "ABBREV.txt.gz",
            "FOOD_DES.txt.gz",
            "WEIGHT.csv.gz",
            "food_groups.csv",
            "nutrients.csv",
        )
        paths = {f"{name.partition('.')[0].lower()}_path": str(folder / name) for name in files}
        set_variables(con, preference=preference, reference=self.reference, **paths)
        for script in ("snapshot_food_des", "snapshot_sr28", "snapshot_amounts"):
            run_script(con, script)
        foods = con.sql("select count(*) from food where source = 'sr28'").fetchall()[0][0]
        return replace(self.facts, foods=int(foods))


def combined_sha256(parts: Iterable[bytes]) -> str:
    """One sum over many byte strings, each with its length so that borders count."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.hexdigest()
