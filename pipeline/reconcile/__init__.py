"""Stated beside computed: verdicts, what most likely went wrong, what to publish, claims."""

from pipeline.reconcile.checks import internal_checks
from pipeline.reconcile.claims import claims, read_claims
from pipeline.reconcile.detect import convention_of
from pipeline.reconcile.explain import Diagnosis, Foods, diagnose, load_foods
from pipeline.reconcile.findings import column_name, findings, profiles, settle, verdicts
from pipeline.reconcile.judge import Judgement, judge, recipe_table
from pipeline.reconcile.publish import publish

__all__ = [
    "Diagnosis",
    "Foods",
    "Judgement",
    "claims",
    "column_name",
    "convention_of",
    "diagnose",
    "findings",
    "internal_checks",
    "judge",
    "load_foods",
    "profiles",
    "publish",
    "read_claims",
    "recipe_table",
    "settle",
    "verdicts",
]
