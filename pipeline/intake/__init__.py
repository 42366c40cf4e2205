"""Intake: files become the collection's tables (recipe, stated, line) and a list of problems."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake.collect import Collection, read_collection
from pipeline.intake.files import collection_root

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.intake.correct import Copies

__all__ = ["Collection", "collection_root", "read_collection", "write_corrected"]


def write_corrected(collection: Collection, corrected: pd.DataFrame, out_dir: Path) -> Copies:
    """Copies of the recipe files with corrected numbers; see ``pipeline.intake.correct``."""
    from pipeline.intake import correct

    return correct.write_corrected(collection, corrected, out_dir)
