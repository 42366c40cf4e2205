"""The input tables of one part of a bulk run, with the recipes of other parts that it needs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.bulk.files import part_name, quoted, table_at
from pipeline.tables import LINE, LINE_RESULT, RECIPE, RUNNER_UP

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.bulk.tasks import Job
    from pipeline.intake.collect import Collection
    from pipeline.problems import Problem

#: Recipes of a creator larger than a part that show the habits as well as all would.
ENOUGH_OF_ONE = 300


class PartTables:
    """The input tables of one part under final ids, with recipes of other parts that it needs.

    Attributes:
        own: ids of the part's own recipes.
        problems: what could not be settled on their lines.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, job: Job, part: int, spoons: str) -> None:
        self.con, self.work, self.part, self._spoons = con, job.work, part, spoons
        self.own: set[str] = set()
        self.problems: list[Problem] = []
        self._ids: dict[str, str] = {}
        needed = "select ''::varchar as used_key, 0 as used_part limit 0"
        if self.work.exists("needed.parquet"):
            needed = (
                f"select used_key, used_part from {table_at(self.work, 'needed.parquet')}"
                f" where part = {part} and used_part <> part"
            )
        con.execute(f"create temp table needed as {needed}")
        others = con.execute("select distinct used_part from needed order by 1").fetchall()
        self._others = [int(other) for (other,) in others]

    def load(self) -> tuple[Collection, pd.DataFrame, pd.DataFrame]:
        """The part as a collection, LINE_RESULT with ``part_of``, and RUNNER_UP."""
        from pipeline.intake.collect import Collection
        from pipeline.reading import line_problems, with_uses

        recipe, line, stated, reading = (
            self._of_recipes(name)
            for name in ("in/recipe", "joined/line", "in/stated", "in/reading")
        )
        runners = self._runners(line)
        self._ids = self._final_ids(recipe)
        self.own = {i for key, i in self._ids.items() if key.startswith(f"{self.part:06d}-")}
        for frame in (recipe, line, stated, reading):
            frame["recipe_id"] = frame["recipe_id"].map(self._ids).astype(object)
        recipe = recipe.astype({"source_line": "Int64", "position": "int64"})
        line = with_uses(line, recipe, self._uses(), self._spoons)
        line = line.astype({"line_no": "int64", "source_line": "Int64", "part_of": "Int64"})
        self.problems = line_problems(line, recipe[recipe["recipe_id"].isin(self.own)])
        collection = Collection(
            recipe=recipe.loc[:, RECIPE], stated=stated,
            line=line.loc[line["part_of"].isna(), LINE], problems=[],
            root=Path(self.work.root if not self.work.remote else "."),
            reading=reading.astype({"rank": "int64"}),
        )  # fmt: skip
        return collection, line.loc[:, [*LINE_RESULT, "part_of"]], runners.loc[:, RUNNER_UP]

    def creators(self, recipe: pd.DataFrame) -> frozenset[str]:
        """Creators whose habits this part can tell: those it sees whole, and very large ones.

        Args:
            recipe: all recipes of the part, those that came along among them.
        """
        if not self.work.exists("creators.parquet"):
            return frozenset()
        every = dict(
            self.con.execute(
                f"select creator, recipes from {table_at(self.work, 'creators.parquet')}"
            ).fetchall()
        )
        here = recipe["creator"].fillna("").value_counts()
        return frozenset(
            str(creator) for creator, n in here.items()
            if n >= every.get(creator, 0) or (creator and n >= ENOUGH_OF_ONE)
        )  # fmt: skip

    def _of_recipes(self, name: str) -> pd.DataFrame:
        """A table's rows of the part and of the recipes it needs, in the order of the collection."""
        return self._frame(
            f"select * from {self._files(name)} where starts_with(recipe_id, '{self.part:06d}-')"
            " or recipe_id in (select used_key from needed)"
        )

    def _runners(self, line: pd.DataFrame) -> pd.DataFrame:
        """Runners-up of the texts of these lines; parts that hold one text hold the same of it."""
        if not self._others:
            return self._frame(f"select * from {self._files('joined/runner')}")
        self.con.register("line_in", line[["text"]])
        return self._frame(
            f"select distinct * from {self._files('joined/runner')}"
            " where text in (select text from line_in) order by text, rank"
        )

    def _files(self, name: str) -> str:
        """The files of a table in the part and in those it needs recipes of, in order, as SQL."""
        parts = [part_name(name, part) for part in sorted([self.part, *self._others])]
        files = ", ".join(f"'{quoted(self.work.root)}/{part}'" for part in parts)
        return f"read_parquet([{files}])"

    def _frame(self, query: str, keys: list[str] | None = None) -> pd.DataFrame:
        """What a query gives, texts as plain objects; ``df()`` would look at each of them twice."""
        import pandas as pd

        found = self.con.execute(query, None if keys is None else {"keys": keys}).fetchnumpy()
        return pd.DataFrame({name: _column(values) for name, values in found.items()})

    def _final_ids(self, recipe: pd.DataFrame) -> dict[str, str]:
        keys = recipe["recipe_id"].tolist()
        ids = dict(zip(keys, recipe["wanted"].tolist(), strict=True))
        if self.work.exists("renamed.parquet"):
            ids.update(
                self.con.execute(
                    f"select key, recipe_id from {table_at(self.work, 'renamed.parquet')}"
                    " where list_contains($keys, key)",
                    {"keys": keys},
                ).fetchall()
            )
        return ids

    def _uses(self) -> pd.DataFrame:
        """USE of this part under final ids."""
        import pandas as pd

        from pipeline.reading import USE

        if not self.work.exists("uses.parquet"):
            return pd.DataFrame(columns=USE)
        uses = self.con.execute(
            f"select {', '.join(USE)} from {table_at(self.work, 'uses.parquet')}"
            " where list_contains($keys, key) order by key, line_no",
            {"keys": list(self._ids)},
        ).df()
        ids = {c: uses[c].map(self._ids) for c in ("key", "used_key")}
        return uses.assign(**ids)

    def intake_problems(self) -> pd.DataFrame:
        """Problems of reading this part, with the ids the recipes have in the end."""
        import pandas as pd

        found = self._frame(
            f"select * from {table_at(self.work, part_name('in/problem', self.part))}"
        )
        if self.work.exists("renamed.parquet"):
            more = self._frame(
                "select * exclude (key) from (select p.*, r.key from"
                f" {table_at(self.work, 'duplicates.parquet')} as p"
                f" join {table_at(self.work, 'renamed.parquet')} as r using (recipe_id)"
                " where list_contains($keys, r.key) order by r.key)",
                [k for k, v in self._ids.items() if v in self.own],
            )
            found = pd.concat([found, more.astype(object)], ignore_index=True)
        found["recipe_id"] = [self._ids.get(r, r) for r in found["recipe_id"]]
        return found.astype({"source_line": "Int64", "line_no": "Int64"})


def _column(values: Any) -> pd.Series[Any]:
    """A column of DuckDB's: texts as objects, missing texts and numbers NaN, missing integers NA."""
    import numpy as np
    import pandas as pd

    if values.dtype.kind in "Of":
        filled = np.ma.filled(values, np.nan)
        return pd.Series(filled, dtype=filled.dtype, copy=False)
    if isinstance(values, np.ma.MaskedArray):
        return pd.Series(pd.arrays.IntegerArray(values.data, np.ma.getmaskarray(values)))
    return pd.Series(values)
