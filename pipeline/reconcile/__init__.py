"""Stated beside computed: verdicts, what most likely went wrong, what to publish, claims."""

from pipeline.reconcile.findings import column_name, findings, verdicts

__all__ = ["column_name", "findings", "verdicts"]
