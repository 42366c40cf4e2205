"""Recipes of the web: saved pages, and schema.org objects wherever they stand."""
