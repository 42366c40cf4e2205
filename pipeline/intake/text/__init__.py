"""Recipes written for people: text cards and Markdown."""
