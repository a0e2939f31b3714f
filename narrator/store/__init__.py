"""Facts and derived records in SQLite."""

from narrator.store.reader import Reader
from narrator.store.writer import Writer

__all__ = ["Reader", "Writer"]
