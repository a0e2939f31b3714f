"""Writes a trained network as the ``final.mdl`` that Vosk reads: transition model, then nnet3."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.train.kaldi_io import Writer
from models.train.network import BYPASS, CEPSTRA, CONTEXT, NECK, SUBSAMPLED, WIDTH, Affine, BatchNorm, Network

Tuples = list[tuple[int, int, int, int]]
"""Graph phone, state 0, pdf of entering, pdf of staying; sorted. Transition ids count from 1: odd ones
stay."""


def tuples(graph_phones: dict[int, int], phones: int) -> Tuples:
    """Of every graph phone (numbered; mapped to its plain phone) after every left neighbour."""
    return sorted(
        (graph, 0, left * phones + plain, phones * phones + left * phones + plain)
        for graph, plain in graph_phones.items()
        for left in range(phones)
    )


def write_model(network: Network, graph_phones: dict[int, int], phones: int, path: Path) -> None:
    """Write the whole file."""
    network.eval()
    with Writer(path) as out:
        _transitions(out, sorted(graph_phones), tuples(graph_phones, phones))
        parts = _Parts(out)
        parts.network(network)
        out.token("<Nnet3>")
        out.raw(b"\n" + "\n".join(parts.config).encode() + b"\n\n")
        out.token("<NumComponents>")
        out.int32(len(parts.writers))
        for name, write in parts.writers:
            out.token("<ComponentName>", name)
            write()
        out.token("</Nnet3>", "<LeftContext>")
        out.int32(CONTEXT)
        out.token("<RightContext>")
        out.int32(CONTEXT)
        out.token("<Priors>")
        out.vector([])


def _transitions(out: Writer, graph_phones: list[int], rows: Tuples) -> None:
    """One state a phone: left or held with even chances."""
    out.token("<TransitionModel>", "<Topology>")
    out.ints(graph_phones)
    out.ints([-1] + [0] * len(graph_phones))
    out.int32(-1, 1, 2, 0, 1, 2, 0)
    out.float32(0.5)
    out.int32(1)
    out.float32(0.5)
    out.int32(-1, -1, 0)
    out.token("</Topology>", "<Tuples>")
    out.int32(len(rows), *(value for row in rows for value in row))
    out.token("</Tuples>", "<LogProbs>")
    out.vector([0.0] + [float(np.log(0.5))] * (2 * len(rows)))
    out.token("</LogProbs>", "</TransitionModel>")


def _plain(values: object) -> NDArray[np.float64]:
    return np.asarray(values.detach().double().cpu().numpy())  # type: ignore[attr-defined]


class _Parts:
    """Collects the network's configuration lines and what writes each component."""

    def __init__(self, out: Writer) -> None:
        self._out = out
        self.config = [f"input-node name=input dim={CEPSTRA}"]
        self.writers: list[tuple[str, Callable[[], None]]] = []

    def network(self, net: Network) -> None:
        weight = _plain(net.first.weight) / _plain(net.deviation)
        bias = _plain(net.first.bias) - weight @ _plain(net.mean)
        x = self._fixed("tdnn1.affine", "Append(Offset(input, -1), input, Offset(input, 1))", weight, bias)
        x = self._norm("tdnn1.batchnorm", self._relu("tdnn1.relu", x), net.first_norm)
        for number, layer in enumerate(net.layers, start=2):
            name, step = f"tdnnf{number}", 0 if number == SUBSAMPLED else 1 if number < SUBSAMPLED else 3
            y = self._affine(f"{name}.linear", x, layer.linear, [-step, 0] if step else [0])
            y = self._affine(f"{name}.affine", y, layer.affine, [0, step] if step else [0])
            y = self._norm(f"{name}.batchnorm", self._relu(f"{name}.relu", y), layer.norm)
            x = self._sum(f"{name}.noop", f"Sum(Scale({BYPASS}, {x}), {y})")
        y = self._affine("prefinal.wide", self._affine("prefinal.neck", x, net.neck, [0]), net.wide, [0])
        y = self._norm("prefinal.batchnorm1", self._relu("prefinal.relu", y), net.wide_norm)
        y = self._norm("prefinal.batchnorm2", self._affine("prefinal.last", y, net.last, [0]), net.last_norm)
        self._affine("output.affine", y, net.output, [0])
        self.config.append("output-node name=output input=output.affine objective=linear")

    def _add(self, name: str, source: str, kind: str, write: Callable[[], None]) -> str:
        self.config.append(f"component-node name={name} component={name} input={source}")

        def whole() -> None:
            self._out.token(f"<{kind}>")
            write()
            self._out.token(f"</{kind}>")

        self.writers.append((name, whole))
        return name

    def _fixed(self, name: str, source: str, weight: NDArray[np.float64], bias: NDArray[np.float64]) -> str:
        def write() -> None:
            self._out.token("<LinearParams>")
            self._out.matrix(weight)
            self._out.token("<BiasParams>")
            self._out.vector(bias)

        return self._add(name, source, "FixedAffineComponent", write)

    def _affine(self, name: str, source: str, layer: Affine, offsets: list[int]) -> str:
        out = self._out

        def write() -> None:
            out.token("<LearningRate>")
            out.float32(0.001)
            out.token("<TimeOffsets>")
            out.ints(offsets)
            out.token("<LinearParams>")
            out.matrix(_plain(layer.weight))
            out.token("<BiasParams>")
            out.vector([] if layer.bias is None else _plain(layer.bias))
            out.token("<OrthonormalConstraint>")
            out.float32(0.0)
            out.token("<UseNaturalGradient>")
            out.bool(True)
            out.token("<NumSamplesHistory>")
            out.float32(2000.0)
            out.token("<AlphaInOut>")
            out.float32(4.0)
            out.float32(4.0)
            out.token("<RankInOut>")
            out.int32(20, 80)

        return self._add(name, source, "TdnnComponent", write)

    def _relu(self, name: str, source: str) -> str:
        out = self._out

        def write() -> None:
            out.token("<Dim>")
            out.int32(WIDTH)
            for flag in ("<ValueAvg>", "<DerivAvg>"):
                out.token(flag)
                out.vector([])
            out.token("<Count>")
            out.float32(0.0)
            out.token("<OderivRms>")
            out.vector([])
            for flag in ("<OderivCount>", "<NumDimsSelfRepaired>", "<NumDimsProcessed>"):
                out.token(flag)
                out.float32(0.0)

        return self._add(name, source, "RectifiedLinearComponent", write)

    def _norm(self, name: str, source: str, norm: BatchNorm) -> str:
        out, width = self._out, len(norm.mean)
        assert width in (WIDTH, NECK)

        def write() -> None:
            out.token("<Dim>")
            out.int32(width)
            out.token("<BlockDim>")
            out.int32(width)
            out.token("<Epsilon>")
            out.float32(norm.epsilon)
            out.token("<TargetRms>")
            out.float32(1.0)
            out.token("<TestMode>")
            out.bool(True)
            out.token("<Count>")
            out.float32(1e4)
            out.token("<StatsMean>")
            out.vector(_plain(norm.mean))
            out.token("<StatsVar>")
            out.vector(_plain(norm.variance))

        return self._add(name, source, "BatchNormComponent", write)

    def _sum(self, name: str, source: str) -> str:
        def write() -> None:
            self._out.token("<Dim>")
            self._out.int32(WIDTH)
            self._out.token("<BackpropScale>")
            self._out.float32(1.0)

        return self._add(name, source, "NoOpComponent", write)
