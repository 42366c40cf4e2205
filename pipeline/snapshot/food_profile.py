"""The profiles of a snapshot's foods: read once at build, kept in ``food_profile``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pipeline.foods.profile import Profile, Range, profiles
from pipeline.snapshot.sources import run_script

if TYPE_CHECKING:
    import duckdb
    import numpy as np
    from numpy.typing import NDArray

#: Sources that are not profiled: millions of labels, named by their makers and found by those names.
NOT_PROFILED = ("branded",)
_COMPOSITION = ("water_g", "protein_g", "fat_g", "carbs_g", "sugar_g", "fiber_g", "sodium_mg")
#: Fields of a profile by their types; ``words`` are those of ``segments``.
_TYPES = {f.name: f.type for f in fields(Profile) if f.name != "words"}
_LISTS = [name for name, kind in _TYPES.items() if kind == "tuple[str, ...]"]
_SETS = [name for name, kind in _TYPES.items() if kind == "frozenset[str]"]
_FLAGS = [name for name, kind in _TYPES.items() if kind == "bool | None"]
_PLAIN = [name for name, kind in _TYPES.items() if kind in ("str", "bool", "bool | None")]
_RANGES = [name for name, kind in _TYPES.items() if kind == "Range | None"]


def fill_profiles(con: duckdb.DuckDBPyConnection) -> None:
    """Read every food of ``food`` with its composition into ``food_profile``.

    Foods of one source are compared with each other only: another source may word and round
    differently.
    """
    import numpy as np
    import pandas as pd

    sources = [name for (name,) in con.sql("select distinct source from food").fetchall()]
    for source in sorted(set(sources) - set(NOT_PROFILED)):
        rows = con.execute(
            "select food_id, description, manufacturer, category from food "
            "where source = $source order by food_id",
            {"source": source},
        ).fetchall()
        amounts = con.execute(
            f"select {', '.join(f'm.{name}' for name in _COMPOSITION)} "
            "from food left join food_wide as m using (food_id) "
            "where food.source = $source order by food_id",
            {"source": source},
        ).fetchnumpy()
        composition = {
            name: np.ma.filled(np.ma.asarray(amounts[name], dtype=np.float64), np.nan)
            for name in _COMPOSITION
        }
        con.register("profile_read", pd.DataFrame(profile_columns(rows, composition)))
        run_script(con, "snapshot_profile")
        con.unregister("profile_read")


def profile_columns(
    rows: Sequence[tuple[str, ...]], composition: Mapping[str, NDArray[np.float64]]
) -> dict[str, Any]:
    """Columns of ``profile_read``; see ``sql/snapshot_profile.sql``.

    Args:
        rows: food_id, description, manufacturer and category of every food of one source.
        composition: as in :func:`pipeline.foods.profile.profiles`.
    """
    import pandas as pd

    ids, descriptions, makers, categories = zip(*rows, strict=True)
    read = profiles(
        descriptions, manufacturers=makers, categories=categories, composition=composition
    )
    columns: dict[str, Any] = {"food_id": list(ids)}
    for name in _LISTS:
        columns[name] = [";".join(getattr(p, name)) for p in read]
    for name in _SETS:
        columns[name] = [";".join(sorted(getattr(p, name))) for p in read]
    for name in _PLAIN:
        values = [getattr(p, name) for p in read]
        columns[name] = pd.array(values, dtype="boolean") if name in _FLAGS else values
    for name in _RANGES:
        ranges: list[Range | None] = [getattr(p, name) for p in read]
        for place, end in enumerate(("low", "high")):
            columns[f"{name}_{end}"] = pd.array(
                [None if r is None else r[place] for r in ranges], dtype="Float64"
            )
    columns["segments"] = [";".join(" ".join(s) for s in p.segments) for p in read]
    columns["langual"] = [";".join(sorted(c for s in p.facets.values() for c in s)) for p in read]
    return columns


def load_profiles(
    con: duckdb.DuckDBPyConnection, food_ids: Sequence[str] | None = None
) -> dict[str, Profile]:
    """Profiles of a snapshot.

    Args:
        con: an open snapshot.
        food_ids: the foods wanted, None for all.

    Returns:
        food_id → profile; label foods of ``NOT_PROFILED`` sources are absent.
    """
    lists = [*_LISTS, *_SETS, "segments", "langual"]  # one text is read faster than a list
    names = [*lists, *_PLAIN, *(f"{r}_{end}" for r in _RANGES for end in ("low", "high"))]
    where = "" if food_ids is None else " where food_id in (select unnest($wanted))"
    quoted = ", ".join(
        f"array_to_string(\"{name}\", ';')" if name in lists else f'"{name}"' for name in names
    )
    rows = con.execute(
        f"select food_id, {quoted} from food_profile{where}",
        {} if food_ids is None else {"wanted": list(food_ids)},
    ).fetchall()
    return {row[0]: _profile(dict(zip(names, row[1:], strict=True))) for row in rows}


def _profile(row: dict[str, Any]) -> Profile:
    segments = tuple(tuple(text.split(" ")) for text in _split(row["segments"]))
    codes = _split(row["langual"])
    facets = {c[0]: frozenset(d for d in codes if d[0] == c[0]) for c in codes}
    values: dict[str, Any] = {name: tuple(_split(row[name])) for name in _LISTS}
    values |= {name: frozenset(_split(row[name])) for name in _SETS}
    values |= {name: row[name] for name in _PLAIN}
    values |= {name: _range(row, name) for name in _RANGES}
    return Profile(
        words=tuple(word for segment in segments for word in segment),
        segments=segments,
        facets=MappingProxyType(facets),
        **values,
    )


def _split(text: str) -> list[str]:
    return text.split(";") if text else []


def _range(row: dict[str, Any], name: str) -> Range | None:
    low = row[f"{name}_low"]
    return None if low is None else (low, row[f"{name}_high"])
