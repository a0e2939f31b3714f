"""The logistic regression of the small models."""

from __future__ import annotations

import numpy as np
import pytest

from models.understanding.logistic import choose, fit, shares

NAMES = ("helps", "noise", "still")


def test_at_the_weights_found_the_penalised_loss_does_not_fall_either_way() -> None:
    draw = np.random.default_rng(3)
    x = np.column_stack([5 + 3 * draw.normal(size=400), draw.normal(size=400), np.ones(400)])
    y = draw.random(400) < 1 / (1 + np.exp(-(x[:, 0] - 5)))
    weights = fit(x.tolist(), y.tolist(), NAMES, penalty=2.0, digits=9)

    def loss(helps: float, noise: float) -> float:
        w = {**weights, "helps": helps, "noise": noise}
        w["bias"] += (weights["helps"] - helps) * x[:, 0].mean() + (weights["noise"] - noise) * x[:, 1].mean()
        chance = shares(x.tolist(), NAMES, w)
        spread = x[:, :2].std(axis=0) * (helps, noise)
        return float(-np.log(np.where(y, chance, 1 - chance)).sum() + spread @ spread)

    best = loss(weights["helps"], weights["noise"])
    for step in (-0.02, 0.02):
        assert loss(weights["helps"] + step, weights["noise"]) > best
        assert loss(weights["helps"], weights["noise"] + step) > best
    assert weights["helps"] == pytest.approx(1.0, abs=0.25)
    assert weights["still"] == pytest.approx(0.0, abs=1e-6)


def test_of_several_things_the_right_one_is_chosen_or_none() -> None:
    groups = [
        ([{"near": 1.0, "odd": x}, {"odd": 1.0 - x}], [True, False], False) for x in (0.1, 0.4, 0.7, 0.9)
    ] + [([{"odd": x}, {"odd": 1.0 - x}], [False, False], True) for x in (0.2, 0.5, 0.8, 0.3)]
    weights = choose(groups, ["near", "odd"], penalty=0.1)
    near, far = weights["bias"] + weights["near"], weights["bias"] + weights.get("odd", 0.0)
    assert near > 0 > far
