"""Everything that a worker's steps import, so that workers can begin as copies of one process.

Nothing here may start a thread or open a database: neither survives being copied.
"""

from __future__ import annotations

import gc

import duckdb  # noqa: F401
import rapidfuzz.distance
import rapidfuzz.process  # noqa: F401

import pipeline.bulk.tasks
import pipeline.compute
import pipeline.dish.apply
import pipeline.habits.apply
import pipeline.habits.readings
import pipeline.habits.rounding
import pipeline.habits.search
import pipeline.intake
import pipeline.intake.structured.documents
import pipeline.intake.tables.table
import pipeline.lines
import pipeline.match.build
import pipeline.match.matcher
import pipeline.match.titles
import pipeline.memory.accepted
import pipeline.reconcile
import pipeline.report.data_files
import pipeline.report.page_rows
import pipeline.weigh.page_units  # noqa: F401

gc.freeze()  # what is imported stays; looking through it again would copy its memory
gc.set_threshold(50_000, 10, 10)  # a step makes much and leaves next to nothing in cycles
