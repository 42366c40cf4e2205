"""Intake: files become the collection's tables (recipe, stated, line) and a list of problems."""

from __future__ import annotations

from pipeline.intake.collect import Collection, read_collection
from pipeline.intake.files import collection_root

__all__ = ["Collection", "collection_root", "read_collection"]
