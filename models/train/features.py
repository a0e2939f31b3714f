"""Cepstra as Vosk's small models take them, for many clips at once, on any device.

Kaldi's MFCC without energy and dither: frames of 25 ms each 10 ms, mean off, pre-emphasis 0.97, Povey
window, 40 mel bands from 20 to 7600 Hz, 40 cepstra, liftered by 22. Equal to kaldi-native-fbank's to
rounding (tests).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import torch
from torch import Tensor

FRAME, SHIFT, FFT, BANDS = 400, 160, 512, 40
_LOW_HZ, _HIGH_HZ, _RATE, _LIFTER = 20.0, 7600.0, 16000, 22.0


class Cepstra:
    """Samples in the range of 16-bit sound, (batch, samples), to cepstra (batch, frames, 40)."""

    def __init__(self, device: str = "cpu") -> None:
        at = torch.arange(FRAME, dtype=torch.float64)
        window = (0.5 - 0.5 * torch.cos(2 * torch.pi * at / (FRAME - 1))).pow(0.85)
        self._window = window.float().to(device)
        self._bands = torch.tensor(_mel_bands(), device=device)
        self._cosines = torch.tensor(_cosines(), device=device).T.contiguous()

    def __call__(self, sound: Tensor, change: Callable[[Tensor], Tensor] | None = None) -> Tensor:
        """``change`` may alter the log mel bands (batch, frames, 40), to train on spoiled ones."""
        frames = sound.unfold(-1, FRAME, SHIFT)
        frames = frames - frames.mean(-1, keepdim=True)
        frames = (
            torch.cat([frames[..., :1] * 0.03, frames[..., 1:] - 0.97 * frames[..., :-1]], -1) * self._window
        )
        spectrum = torch.fft.rfft(frames, FFT)
        bands = (spectrum.real**2 + spectrum.imag**2) @ self._bands
        bands = bands.clamp(min=1.1920929e-7).log()
        return (change(bands) if change else bands) @ self._cosines


def _mel_bands() -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    def mel(
        hertz: float | np.ndarray[tuple[int], np.dtype[np.float64]],
    ) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return 1127.0 * np.log1p(np.asarray(hertz) / 700.0)

    low, high = float(mel(_LOW_HZ)), float(mel(_HIGH_HZ))
    step = (high - low) / (BANDS + 1)
    at = mel(np.arange(FFT // 2) * _RATE / FFT)
    bands = np.zeros((FFT // 2 + 1, BANDS), np.float32)
    for band in range(BANDS):
        left, centre, right = low + band * step, low + (band + 1) * step, low + (band + 2) * step
        rise, fall = (at - left) / (centre - left), (right - at) / (right - centre)
        bands[: FFT // 2, band] = np.where((at > left) & (at < right), np.where(at <= centre, rise, fall), 0)
    return bands


def _cosines() -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    """The discrete cosine transform with its lifter, (cepstra, bands)."""
    k = np.arange(BANDS)[:, None]
    matrix = np.sqrt(2 / BANDS) * np.cos(np.pi / BANDS * (np.arange(BANDS)[None] + 0.5) * k)
    matrix[0] = np.sqrt(1 / BANDS)
    lifter = 1 + 0.5 * _LIFTER * np.sin(np.pi * np.arange(BANDS) / _LIFTER)
    return (matrix * lifter[:, None]).astype(np.float32)
