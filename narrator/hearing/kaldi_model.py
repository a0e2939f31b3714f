"""Reads the network out of a Vosk model's ``final.mdl`` (Kaldi's binary object format).

Int and float: a byte 4 and the value; bool: a bare T or F; int vector: a byte 4, a bare int32 count, the
data; vector and matrix: a token (FV, FM), their sizes as ints, float32 data. Little endian throughout.
"""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

HEADER = b"\0B"


class Reader:
    """Reads one binary object from bytes."""

    def __init__(self, data: bytes) -> None:
        if data[:2] != HEADER:
            raise ValueError("not a binary Kaldi object")
        self.data, self.at = data, 2

    def token(self) -> str:
        """The next token, up to a blank."""
        end = self.data.index(b" ", self.at)
        token = self.data[self.at : end].decode()
        self.at = end + 1
        return token

    def expect(self, token: str) -> None:
        """Read a token that must come."""
        if (found := self.token()) != token:
            raise ValueError(f"{token} expected, {found} found at byte {self.at}")

    def int32(self) -> int:
        """A whole number."""
        value: int = struct.unpack_from("<i", self.data, self.at + 1)[0]
        self.at += 5
        return value

    def ints(self) -> NDArray[np.int32]:
        """A vector of int32."""
        count: int = struct.unpack_from("<i", self.data, self.at + 1)[0]
        values = np.frombuffer(self.data, "<i4", count, self.at + 5)
        self.at += 5 + 4 * count
        return values

    def floats(self, *sizes: int) -> NDArray[np.float32]:
        """Float32 data of the given shape, without its header."""
        values = np.frombuffer(self.data, "<f4", int(np.prod(sizes)), self.at).reshape(sizes)
        self.at += values.nbytes
        return values

    def value(self, flag: str) -> Any:
        """What follows the token ``flag`` inside an nnet3 component: array, number, bool or nothing."""
        head = self.data[self.at : self.at + 3]
        if head == b"FM ":
            self.at += 3
            return self.floats(self.int32(), self.int32())
        if head == b"FV ":
            self.at += 3
            return self.floats(self.int32())
        if flag == "<TimeOffsets>":
            return self.ints()
        if head[:1] in (b"T", b"F"):
            self.at += 1
            return head[:1] == b"T"
        if head[0] not in (4, 8):
            return None
        size = head[0]
        code = "<i" if flag in _INTEGERS else "<f" if size == 4 else "<d"
        value = struct.unpack_from(code, self.data, self.at + 1)[0]
        self.at += 1 + size
        if flag in ("<RankInOut>", "<AlphaInOut>"):
            self.at += 5
        return value


_INTEGERS = frozenset("<Dim> <BlockDim> <RankIn> <RankOut> <UpdatePeriod> <TimePeriod>".split())


def read_network(data: bytes) -> tuple[list[str], dict[str, dict[str, Any]]]:
    """The configuration lines and the components of the nnet3 network in a ``final.mdl``.

    Each component is a dictionary of its fields, ``type`` among them.
    """
    reader = Reader(data)
    reader.at = data.index(b"<Nnet3> ") + len(b"<Nnet3> ")
    end = data.index(b"\n\n", reader.at)
    config = data[reader.at : end].decode().split("\n")
    reader.at = end + 2
    reader.expect("<NumComponents>")
    components = {}
    for _ in range(reader.int32()):
        reader.expect("<ComponentName>")
        name, kind = reader.token(), reader.token()
        fields: dict[str, Any] = {"type": kind[1:-1]}
        while (flag := reader.token()) != f"</{kind[1:]}":
            fields[flag[1:-1]] = reader.value(flag)
        components[name] = fields
    return config, components
