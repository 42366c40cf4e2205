"""Fixtures of the compute tests; the helpers are in conftest_compute.py beside this file."""

from conftest_compute import con, line, line_maker

__all__ = ["con", "line", "line_maker"]
