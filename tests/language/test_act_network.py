"""The network's numbers: against the textbook's formulas word by word, and what it makes of talk."""

from __future__ import annotations

import numpy as np
import pytest

from models.understanding.narrations.proofread import is_brand
from narrator.language.act_network import Network, act_network
from narrator.values import ACTS

LINES = ["the customer says it squeals".split(), ["zzqx"], [], "12.4 volts at the battery ?".split()]


@pytest.fixture(scope="module")
def network() -> Network:
    found = act_network()
    assert found is not None
    return found


def sigmoid(x: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-x))


def around(rows: list[np.ndarray], weights: np.ndarray, bias: np.ndarray) -> list[np.ndarray]:
    edge = [np.zeros_like(rows[0])] * (len(weights) // 2)
    padded = [*edge, *rows, *edge]
    reach = range(len(weights))
    return [np.maximum(sum(padded[n + k] @ weights[k] for k in reach) + bias, 0) for n in range(len(rows))]


def around_words(network: Network, words: list[str]) -> np.ndarray:
    """Two convolutions, the second added on, and layer norm; a row a word."""
    part = network._part
    rows = [network._table[network.place(word)] for word in words] or [network._table[1]]
    near = around(rows, part["near"], part["near.bias"])
    wide = around(near, part["wide"], part["wide.bias"])
    even = []
    for a, b in zip(near, wide, strict=True):
        x = a + b
        even.append((x - x.mean()) / np.sqrt(x.var() + 1e-5) * part["even"] + part["even.bias"])
    return np.array(even)


def test_tags_and_what_is_meant_are_those_of_the_formulas(network: Network) -> None:
    part = network._part
    for words, found in zip(LINES, network.read(LINES), strict=True):
        even = around_words(network, words)
        whole = np.concatenate([even.mean(axis=0), even.max(axis=0)])
        assert np.allclose(found.line, whole, atol=1e-4)
        odds = np.exp(even @ part["tag"] + part["tag.bias"])
        assert np.allclose(found.tags, odds / odds.sum(axis=1, keepdims=True), atol=1e-4)
        beside = np.hstack([even, np.tile(whole, (len(even), 1))])
        hidden = np.maximum(beside @ part["meant"] + part["meant.bias"], 0)
        meant = sigmoid(hidden @ part["subject"] + part["subject.bias"])[:, 0]
        assert np.allclose(found.meant, meant, atol=1e-4)


def carried(network: Network, way: str, lines: list[np.ndarray]) -> list[np.ndarray]:
    """The gated recurrent unit as in PyTorch's manual (torch.nn.GRU; formulas from memory)."""
    part, story = network._part, network.start()
    size, out = len(story), []
    for line in lines:
        given = line @ part[f"{way}.line"] + part[f"{way}.line.bias"]
        kept = part[f"{way}.forget"] @ story + part[f"{way}.forget.bias"]
        reset = sigmoid(given[:size] + kept[:size])
        update = sigmoid(given[size : 2 * size] + kept[size : 2 * size])
        fresh = np.tanh(given[2 * size :] + reset * kept[2 * size :])
        story = (1 - update) * fresh + update * story
        out.append(story)
    return out


def test_scores_are_those_of_the_formulas(network: Network) -> None:
    part = network._part
    evens = [around_words(network, words) for words in LINES]
    lines = [np.concatenate([even.mean(axis=0), even.max(axis=0)]) for even in evens]
    stories, laters = carried(network, "story", lines), carried(network, "later", lines[::-1])[::-1]
    for scores, line, story, later in zip(network.score(LINES), lines, stories, laters, strict=True):
        hidden = np.maximum(np.concatenate([line, story, later]) @ part["all"] + part["all.bias"], 0)
        odds = hidden @ part["judged"] + part["judged.bias"] + line @ part["alone"] + part["alone.bias"]
        assert np.allclose(scores, sigmoid(odds), atol=1e-4)


def test_stories_carried_on_line_by_line_or_all_at_once_are_alike(network: Network) -> None:
    read, start = network.lines(LINES), network.start()
    stories, laters = network.stories(read, start), network.laters(read, start)
    before, after = start, start
    for n in range(len(LINES)):
        before = network.stories(read[n : n + 1], before)[0]
        assert np.allclose(before, stories[n], atol=1e-5)
        last = len(LINES) - 1 - n
        after = network.laters(read[last : last + 1], after)[0]
        assert np.allclose(after, laters[last], atol=1e-5)


def test_no_lines_no_scores(network: Network) -> None:
    assert network.score([]).shape == (0, len(ACTS))


def test_a_figure_is_a_number_and_a_strange_word_unknown(network: Network) -> None:
    assert network.place("12.4") == network.place("7") != network.place("zzqx")
    assert network.place("zzqx") == network.place("qqqz")


def test_the_story_so_far_tells_a_check_of_the_repair_from_a_test(network: Network) -> None:
    before = ["she says it squeals when you brake".split(), "could be the pads or a sticking caliper".split()]
    after = [
        *before,
        "found it the slide pin is seized solid".split(),
        "new pins in and both bolts back in and tight".split(),
        "wheel back on".split(),
    ]
    said, which = "took it round the block and there is no noise now".split(), ACTS.index("verification")
    early, late = (network.score([*told, said])[-1][which] for told in (before, after))
    assert late > 0.5
    assert late > early


def test_what_follows_tells_a_conclusion_that_stands_from_one_taken_back(network: Network) -> None:
    said, which = "so it's the relay then".split(), ACTS.index("confirmed")
    told = ["it clicks and nothing more".split(), said]
    stands = [*told, "new relay in and it cranks".split(), "four starts in a row".split()]
    falls = [*told, "or is it".split(), "no the relay is fine it must be the cable".split()]
    one, other = (network.score(lines)[1][which] for lines in (stands, falls))
    assert one > other


def test_no_brand_among_the_words(network: Network) -> None:
    assert not [word for word in network.words if is_brand(word)]


def test_what_is_told_of_words_is_that_of_the_formulas(network: Network) -> None:
    part, said = network._part, LINES[0]
    read = network.read([said])
    stories = network.stories(np.array([one.line for one in read]), network.start())
    told = network.told(read, stories)[0]
    for n, word in enumerate(around_words(network, said)):
        given = np.concatenate([word, read[0].line, stories[0]])
        hidden = np.maximum(given @ part["told"] + part["told.bias"], 0)
        assert told.moves[n] == pytest.approx(sigmoid(hidden @ part["moves"] + part["moves.bias"]), abs=1e-4)
        odds = np.exp(hidden @ part["amounts"] + part["amounts.bias"])
        assert told.amounts[n] == pytest.approx(odds / odds.sum(), abs=1e-4)


def test_no_lines_nothing_told(network: Network) -> None:
    assert network.told([], network.stories(network.lines([]), network.start())) == []
