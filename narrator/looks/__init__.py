"""What a person should look at: signals read from facts, from what was understood, and from the record."""

from narrator.looks.queue import Queued, queue, titles

__all__ = ["Queued", "queue", "titles"]
