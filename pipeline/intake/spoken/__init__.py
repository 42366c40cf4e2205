"""Captions and scripts of recipes that were talked through."""
