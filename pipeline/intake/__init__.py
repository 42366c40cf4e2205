"""Intake: files become the collection's tables (recipe, stated, line) and a list of problems."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake.collect import Collection, read_collection
from pipeline.intake.files import collection_root

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.intake.correct import Copies
    from pipeline.intake.write import Form, Made

__all__ = [
    "Collection", "collection_root", "export", "new_collection", "read_collection", "write_cards",
    "write_corrected",
]  # fmt: skip


def write_corrected(collection: Collection, corrected: pd.DataFrame, out_dir: Path) -> Copies:
    """Copies of the recipe files with corrected numbers; see ``pipeline.intake.correct``."""
    from pipeline.intake import correct

    return correct.write_corrected(collection, corrected, out_dir)


def write_cards(collection: Collection, folder: Path) -> Made:
    """Each recipe as an editable text card; see ``pipeline.intake.write``."""
    from pipeline.intake import write

    return write.write_cards(collection, folder)


def new_collection(folder: Path) -> Made:
    """A starter collection; see ``pipeline.intake.write``."""
    from pipeline.intake import write

    return write.new_collection(folder)


def export(
    collection: Collection, target: Path, form: Form, verified: pd.DataFrame | None = None
) -> list[Path]:
    """The collection for other programs; see ``pipeline.intake.write``."""
    from pipeline.intake import write

    return write.export(collection, target, form, verified)
