"""Utterances to acts, entities and cues."""

from narrator.language.reader import Reader

__all__ = ["Reader"]
