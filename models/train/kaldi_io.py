"""Writes Kaldi's binary object format, as far as transition models and nnet3 networks need it.

Int and float: a byte 4 and the value; bool: a bare T or F; int vector: a byte 4, a bare int32 count, the
data; vector and matrix: a token (FV, FM), their sizes as ints, float32 data. Little endian throughout.
"""

from __future__ import annotations

import struct
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from narrator.hearing.kaldi_model import HEADER


class Writer:
    """Writes one binary object to a file."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("wb")
        self._file.write(HEADER)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def token(self, *tokens: str) -> None:
        """Each token and a blank."""
        self._file.writelines(token.encode() + b" " for token in tokens)

    def raw(self, data: bytes) -> None:
        """Bytes as they are."""
        self._file.write(data)

    def int32(self, *values: int) -> None:
        """Whole numbers, one after the other."""
        self._file.writelines(b"\4" + struct.pack("<i", value) for value in values)

    def float32(self, value: float) -> None:
        """One number."""
        self._file.write(b"\4" + struct.pack("<f", value))

    def bool(self, value: bool) -> None:
        """T or F."""
        self._file.write(b"T" if value else b"F")

    def ints(self, values: ArrayLike) -> None:
        """A vector of int32."""
        data = np.asarray(values, "<i4")
        self._file.write(b"\4" + struct.pack("<i", len(data)) + data.tobytes())

    def vector(self, values: ArrayLike) -> None:
        """A vector of float32."""
        data = np.asarray(values, "<f4")
        self.token("FV")
        self.int32(len(data))
        self._file.write(data.tobytes())

    def matrix(self, values: ArrayLike) -> None:
        """A matrix of float32, row by row."""
        data = np.ascontiguousarray(values, "<f4")
        self.token("FM")
        self.int32(*data.shape)
        self._file.write(data.tobytes())
