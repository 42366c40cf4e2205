"""Publish: corrected copies of recipe files, edits of single recipes, cards and exports."""
