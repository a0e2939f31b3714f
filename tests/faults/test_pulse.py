"""PortAudio for real, against a PulseAudio server of our own with a null sink: what is played into the sink
comes back from its monitor. Left out where there is no such server or PortAudio cannot reach it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

RATE, HERTZ = 48_000, 440.0

HEARER = """
import json, time
import numpy as np
from narrator.hearing.capture import Capture
from narrator.hearing.portaudio import PortAudio
from narrator.values import AudioChunk
capture = Capture(PortAudio(), "pulse")
parts, gaps, first = [], 0, None
for block in capture:
    first = first or time.monotonic()
    if isinstance(block, AudioChunk):
        parts.append(block.samples)
    else:
        gaps += 1
    if time.monotonic() - first > 3.0:
        break
wall = time.monotonic() - first
capture.stop()
sound = np.concatenate(parts)
tone = sound[16000:32000]
hertz = float(np.abs(np.fft.rfft(tone * np.hanning(len(tone)))).argmax()) * 16000 / len(tone)
print(json.dumps({"seconds": len(sound) / 16000, "wall": wall, "gaps": gaps, "hertz": hertz,
                  "loud": float(np.abs(tone).max())}))
"""


@pytest.fixture
def server() -> Iterator[dict[str, str]]:
    """The environment in which clients find the server."""
    if not all(map(shutil.which, ("pulseaudio", "pacat", "pactl"))):
        pytest.skip("no PulseAudio here")
    with tempfile.TemporaryDirectory() as name:
        runtime = Path(name) / "pulse"
        runtime.mkdir(mode=0o700)
        socket = runtime / "native"
        env = os.environ | {
            "XDG_RUNTIME_DIR": name, "HOME": name, "PULSE_RUNTIME_PATH": str(runtime),
            "PULSE_SERVER": f"unix:{socket}", "PULSE_SOURCE": "bench.monitor", "PULSE_SINK": "bench",
        }  # fmt: skip
        sink = f"module-null-sink sink_name=bench rate={RATE}"
        command = [
            "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
            "-L", sink, "-L", f"module-native-protocol-unix socket={socket}",
        ]  # fmt: skip
        process = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            for _ in range(100):
                if (
                    subprocess.run(["pactl", "info"], env=env, capture_output=True, check=False).returncode
                    == 0
                ):
                    break
                time.sleep(0.1)
            else:
                pytest.skip("PulseAudio does not start here")
            yield env
        finally:
            process.terminate()
            process.wait()


def test_what_a_real_sound_server_gives_arrives_whole(server: dict[str, str]) -> None:
    seen = subprocess.run(
        [sys.executable, "-c", "import sounddevice; print(sounddevice.query_devices())"],
        env=server, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if "pulse" not in seen.stdout:
        pytest.skip("PortAudio does not reach PulseAudio here")
    tone = 0.4 * np.sin(2 * np.pi * HERTZ / RATE * np.arange(RATE * 30))
    with tempfile.TemporaryFile() as raw:
        raw.write((tone * 32767).astype("<i2").tobytes())
        raw.seek(0)
        played = subprocess.Popen(
            ["pacat", "--raw", "--format=s16le", f"--rate={RATE}", "--channels=1"], stdin=raw, env=server
        )
        try:
            heard = subprocess.run(
                [sys.executable, "-c", HEARER],
                env=server,
                capture_output=True,
                text=True,
                check=True,
                timeout=60,
            )
        finally:
            played.kill()
            played.wait()
    found = json.loads(heard.stdout)
    assert found["gaps"] == 0
    assert abs(found["hertz"] - HERTZ) <= 2.0
    assert 0.3 < found["loud"] < 0.5
    assert abs(found["seconds"] - found["wall"]) < 0.6, "as much sound as time"
