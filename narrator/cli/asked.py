"""Kinds of options of the command line: what is written wrong would be a search that finds no job."""

from __future__ import annotations

from datetime import date

import click

from narrator.training.kinds import system_names


class Day(click.ParamType[str]):
    """A day written as 2031-03-04, or nothing."""

    name = "day"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """See ``click.ParamType``."""
        text = value.strip()
        if text and not is_day(text):
            self.fail(f"{value!r} is no day: write it as 2031-03-04.", param, ctx)
        return text


class System(click.ParamType[str]):
    """A system of a vehicle as suspects belong to it, or nothing."""

    name = "system"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """See ``click.ParamType``."""
        known = system_names()
        if value and value not in known:
            self.fail(f"{value!r} is no system; choose from {', '.join(known)}.", param, ctx)
        return value


def is_day(text: str) -> bool:
    """Whether it is a day of the calendar, written in full."""
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
