"""What a run was: the head of report.json, and the first lines of every report."""

from __future__ import annotations

from dataclasses import asdict
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.run import Result

REPORT_VERSION = 1


def facts(result: Result) -> dict[str, Any]:
    """Counts, table and settings of a run, ready for JSON.

    Returns:
        ``report_version``, ``steelyard``, ``snapshot`` (id, source, release, built_at),
        ``settings``, ``convention`` (of energy and carbohydrate), ``recipes`` (how many),
        ``verdicts`` (how many of each), ``seconds``.
    """
    snapshot = {
        key: str(result.snapshot[key])
        for key in ("snapshot_id", "release", "built_at", "foods")
        if result.snapshot.get(key) is not None
    }
    snapshot["source"] = source_title(result)
    return {
        "report_version": REPORT_VERSION,
        "steelyard": _version(),
        "snapshot": snapshot,
        "settings": asdict(result.settings),
        "convention": asdict(result.convention),
        "recipe_count": len(result.recipes),
        "verdict_count": result.counts(),
        "seconds": {str(k): float(v) for k, v in result.seconds.items()},
    }


def source_title(result: Result) -> str:
    """The food table in force, as its publisher calls it, with its release."""
    titles = [_titled(source) for source in tables_in_force(result.snapshot)]
    return " and ".join(titles) or str(result.snapshot.get("snapshot_id", "the food table"))


def tables_in_force(snapshot: dict[str, Any]) -> list[dict[str, Any]]:
    """The sources of a snapshot whose foods may be answers; see ``snapshot.facts_of``."""
    return [s for s in snapshot.get("sources") or [] if not s.get("reference")]


def _titled(source: dict[str, Any]) -> str:
    """ "Standard Reference, Release 28 (2015)": the number of a release is not repeated."""
    title = str(source.get("title") or source.get("source"))
    release = str(source.get("release") or "")
    first, _, rest = release.partition(" ")
    if first and title.endswith(f" {first}"):
        release = rest
    release = release.strip().removeprefix("(").removesuffix(")")
    return f"{title} ({release})" if release else title


def _version() -> str:
    try:
        return version("steelyard")
    except PackageNotFoundError:
        return "unknown"
