"""Spoken scripts: captions and plain talk become recipes."""

from pipeline.intake.spoken.script import looks_spoken, read_script

__all__ = ["looks_spoken", "read_script"]
