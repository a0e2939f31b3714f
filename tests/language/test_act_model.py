"""The act model's weights, summed, give what its categorizer gives."""

from __future__ import annotations

import numpy as np
from spacy.tokens import Doc

from narrator.language.act_model import Pass, act_model
from narrator.language.features import STAGES, Features
from narrator.values import ACTS


def test_sums_are_what_the_categorizer_says() -> None:
    model = act_model()
    assert model is not None
    one: Pass = model.bag
    known = sorted(one.known)
    rows = [known[start : start + 40] + known[start : start + 2] for start in range(0, 400, 40)]
    rows += [[], ["never seen"], [known[7]]]
    pipe = one.nlp.get_pipe("textcat_multilabel")
    docs = [Doc(one.nlp.vocab, words=[f for f in row if f in one.known] or ["none"]) for row in rows]
    order = [pipe.labels.index(act) for act in ACTS]
    assert np.allclose(one.score(rows), pipe.predict(docs)[:, order], atol=1e-5)


def test_no_rows_no_scores() -> None:
    model = act_model()
    assert model is not None
    assert model.bag.score([]).shape == (0, len(ACTS))


def test_features_found_by_their_words_score_as_those_found_by_name() -> None:
    model = act_model()
    assert model is not None
    lines = ["the belt is the cause", "", "zzqx belt zzqx", "took the two bolts out of it"]
    told = ("c=polarity.bad", "e=component", "never=seen")
    rows = [
        Features(("<s>", *line.split(), "</s>"), told[:n], stage, told[n:], ["turn=1"])
        for n, (line, stage) in enumerate(zip(lines, (*STAGES, "off"), strict=True))
    ]
    assert np.allclose(model.bag.judge(rows), model.bag.score(row.names() for row in rows)[:], atol=1e-6)
    assert model.bag.judge([]).shape == (0, len(ACTS))
