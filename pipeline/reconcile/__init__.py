"""Stated beside computed: verdicts, what most likely went wrong, what to publish, claims."""

from pipeline.reconcile.explain import Diagnosis, Foods, diagnose, explanations, load_foods
from pipeline.reconcile.findings import column_name, findings, profiles, verdicts
from pipeline.reconcile.judge import Judgement, judge, recipe_table

__all__ = [
    "Diagnosis",
    "Foods",
    "Judgement",
    "column_name",
    "diagnose",
    "explanations",
    "findings",
    "judge",
    "load_foods",
    "profiles",
    "recipe_table",
    "verdicts",
]
