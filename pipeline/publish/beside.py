"""What corrected copies need beside them to be judged as their originals were.

The pantry, the answers about their lines, the settings in force with what was detected in the whole
collection, and the files of the bases that they use.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.habits.apply import reached, uses_of
from pipeline.intake.building import STDIN
from pipeline.memory.decisions import load_decisions, same_text, save_decision
from pipeline.settings import FILE_NAME, Settings

if TYPE_CHECKING:
    from pipeline.run import Result


def write_beside(
    result: Result, copied: Iterable[str], out_dir: Path, *,
    pantry: Path | None = None, decisions: Path | None = None,
) -> list[Path]:  # fmt: skip
    """Write them into the folder of the copies; the collection's own files are never written to.

    Args:
        result: of the whole collection.
        copied: recipe_ids that stand in the copies.
        out_dir: folder of the copies, not that of the collection.
        pantry, decisions: in place of those beside the recipes.

    Returns:
        The files written.
    """
    collection = result.collection
    written: list[Path] = []
    if out_dir.resolve() == Path(collection.root).resolve():
        return written
    recipe = collection.recipe.set_index("recipe_id")
    source = recipe["source"].to_dict()
    there = {source[recipe_id] for recipe_id in copied}
    ids = set(recipe.index[recipe["source"].isin(there)])
    used = {source[r] for r in reached(ids, uses_of(result.lines)) if r in source} - there - {STDIN}
    for name in sorted(used):
        target = out_dir / name
        if target.resolve().is_relative_to(out_dir.resolve()):
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(collection.files[name].read_bytes())
            written.append(target)
    own = pantry or collection.pantry_path
    if own is not None and own.is_file():
        written.append(out_dir / f"pantry{own.suffix.lower()}")
        written[-1].write_bytes(own.read_bytes())
    lines = result.lines[result.lines["recipe_id"].map(source).isin(there | used)]
    about = {same_text(str(text)) for text in lines["text"]}
    about |= {
        same_text(str(name))
        for r in lines["recipe_id"].unique()
        for name in (r, recipe["title"][r])
    }
    answers = out_dir / "decisions.csv"
    answers.unlink(missing_ok=True)
    for (scope, text), decision in load_decisions(decisions or collection.decisions_path)[
        0
    ].by_subject.items():
        if scope in ("name", "habit") or text in about:
            save_decision(answers, decision)
    written += [answers] if answers.exists() else []
    settings = replace(
        result.settings, pantry="", decisions="", energy=result.convention.energy,
        carbohydrate=result.convention.carbohydrate,
    )  # fmt: skip
    (out_dir / FILE_NAME).write_text(as_toml(settings), encoding="utf-8")
    return [*written, out_dir / FILE_NAME]


def as_toml(settings: Settings) -> str:
    """The settings that are not the default, as ``steelyard.toml`` holds them."""
    values: dict[str, Any] = asdict(settings)
    creators = values.pop("creators")
    usual = asdict(Settings())
    lines = [f"{key} = {json.dumps(v)}" for key, v in values.items() if v != usual[key]]
    for name, own in creators.items():
        lines.append(f"\n[creators.{json.dumps(name)}]")
        lines += [f"{key} = {json.dumps(value)}" for key, value in own.items() if value is not None]
    return "".join(f"{line}\n" for line in lines)
