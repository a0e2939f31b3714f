"""Measures spoken orders heard by the second ear: ``python -m tests.bench.orders NARRATIONS --cache DIR``.

Every order of ``grammars/hearing/phrases.toml`` with three words or more is spoken by voices that nothing
was trained on; lines of narrations (``*.jsonl``) must give none.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from models.train.phrases import tables
from models.train.voices import REPORTED
from narrator.hearing.orders import OrderEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from tests.bench.spoken import lines, noisy, own_noises, spoken


def main() -> None:
    """Right, wrong and missed of the orders, and false ones an hour of narration, quiet and at 10 dB."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cache", type=Path, default=Path("out/spoken"))
    parser.add_argument("--voices", nargs="+", default=list(REPORTED))
    parser.add_argument("--every", type=int, default=4)
    parser.add_argument("--orders-every", type=int, default=1)
    given = parser.parse_args()
    attention = "okay narrator"
    orders = [
        order for order in tables()["commands"]["orders"] if len(order.split()) > 1 and attention not in order
    ]
    phrases = [f"{attention} {order}" for order in orders]
    ear, noises = OrderEar(phrases), own_noises()
    for ratio in (None, 10.0):
        right = wrong = missed = false = 0
        seconds = 0.0
        for voice in given.voices:
            for number, phrase in enumerate(phrases[:: given.orders_every]):
                sound = noisy(spoken(phrase, voice, given.cache), ratio, noises, number)
                heard = ear.hear(Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_)))
                right += heard is not None and heard.phrase == phrase
                wrong += heard is not None and heard.phrase != phrase
                missed += heard is None
            for number, text in enumerate(lines(given.folder, [], given.every)):
                sound = noisy(spoken(text, voice, given.cache), ratio, noises, number)
                false += ear.hear(Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_))) is not None
                seconds += len(sound) / 16_000
        total = right + wrong + missed
        level = "quiet" if ratio is None else f"{ratio:g} dB"
        print(
            f"{level:>6}: of {total} orders {100 * right / total:.1f} % right, {wrong} wrong, "
            f"{missed} missed; "
            f"{false} false in {seconds / 3600:.2f} h of narration",
            flush=True,
        )


if __name__ == "__main__":
    main()
