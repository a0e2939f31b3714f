"""Lattice-free maximum mutual information: the loss and its gradient by forward-backward, no autograd tape.

Every phone has one state: entered by its forward pdf, held by its self-loop pdf. The numerator graph is
what was said (``phone_graphs``), the denominator a phone bigram; pdfs depend on the phone and the one to
its left. All in the log domain, batched, on any device. Tests compare values and gradients with autograd.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import torch
from torch import Tensor

NEVER = -1e4
"""Log of an impossible probability."""

Step = Callable[[Tensor], Tensor]


def forward_backward(
    enter: Tensor, stay: Tensor, lengths: Tensor, *, first: Tensor, last: Tensor, ahead: Step, back: Step
) -> tuple[Tensor, Tensor, Tensor]:
    """Log total (batch,) and how often each state was entered and held, shapes as ``enter`` and ``stay``.

    ``enter`` and ``stay``: (frames, batch, *states) scores; ``first`` and ``last``: log weights of
    beginning and ending in a state; ``ahead`` sums log weights over transitions into each state, ``back``
    out of each.
    """
    frames = enter.shape[0]
    spread = (-1,) + (1,) * (enter.dim() - 2)
    alpha = first + enter[0]
    alphas, entered = [alpha], [alpha]
    for t in range(1, frames):
        come = ahead(alpha) + enter[t]
        alpha = torch.where((t < lengths).view(spread), torch.logaddexp(come, alpha + stay[t]), alpha)
        alphas.append(alpha)
        entered.append(come)
    total = torch.logsumexp((alpha + last).flatten(1), 1)
    norm = total.view(spread)
    enters, stays = torch.zeros_like(enter), torch.zeros_like(stay)
    beta = last.expand_as(alpha)
    for t in range(frames - 1, 0, -1):
        inside = (t < lengths).view(spread)
        enters[t] = (entered[t] + beta - norm).exp() * inside
        stays[t] = (alphas[t - 1] + stay[t] + beta - norm).exp() * inside
        beta = torch.where(inside, torch.logaddexp(beta + stay[t], back(beta + enter[t])), beta)
    enters[0] = (alphas[0] + beta - norm).exp()
    return total, enters, stays


def numerator(scores: Tensor, lengths: Tensor, graph: Mapping[str, Tensor]) -> tuple[Tensor, Tensor]:
    """Log weight of what was said (batch,) and its occupancy (batch, frames, pdfs).

    ``graph``: ``first``, ``last`` (batch, states); ``before``, ``after`` (batch, states, arcs) with the
    neighbours and ``before_weight``, ``after_weight`` with the arcs' log weights; ``enter``, ``stay``
    (batch, states) pdfs; ``speech`` 1 where a state is no silence, and ``quiet`` (batch, frames) 1 where
    only silence may be.
    """
    by_frame = scores.transpose(0, 1)
    frames, batch, _ = by_frame.shape
    enter_at = graph["enter"][None].expand(frames, -1, -1)
    stay_at = graph["stay"][None].expand(frames, -1, -1)
    forbidden = -50.0 * graph["quiet"].T[:, :, None] * graph["speech"][None]
    row = torch.arange(batch, device=scores.device)[:, None, None]
    total, enters, stays = forward_backward(
        by_frame.gather(2, enter_at) + forbidden,
        by_frame.gather(2, stay_at) + forbidden,
        lengths,
        first=graph["first"],
        last=graph["last"],
        ahead=lambda a: torch.logsumexp(a[row, graph["before"]] + graph["before_weight"], 2),
        back=lambda b: torch.logsumexp(b[row, graph["after"]] + graph["after_weight"], 2),
    )
    occupancy = torch.zeros_like(by_frame)
    occupancy.scatter_add_(2, enter_at, enters)
    occupancy.scatter_add_(2, stay_at, stays)
    return total, occupancy.transpose(0, 1)


def denominator(
    scores: Tensor, lengths: Tensor, bigram: tuple[Tensor, Tensor, Tensor]
) -> tuple[Tensor, Tensor]:
    """Log weight of everything that could be said (batch,) and its occupancy (batch, frames, pdfs).

    ``bigram``: log weights of the first phone (K,), of each phone after each (K, K), of ending after each
    (K,). Pdf ``left * K + phone`` enters a phone, ``K * K`` more holds it; the left context of the first
    phone is phone 0.
    """
    first, follow, last = bigram
    phones = len(first)
    by_frame = scores.transpose(0, 1)
    enter = by_frame[:, :, : phones * phones].unflatten(2, (phones, phones))
    stay = by_frame[:, :, phones * phones :].unflatten(2, (phones, phones))
    start = torch.full((phones, phones), NEVER, device=scores.device)
    start[0] = first
    total, enters, stays = forward_backward(
        enter,
        stay,
        lengths,
        first=start,
        last=last[None, :].expand(phones, phones),
        ahead=lambda a: torch.logsumexp(a, 1)[:, :, None] + follow,
        back=lambda b: torch.logsumexp(b + follow, 2)[:, None, :].expand(-1, phones, -1),
    )
    return total, torch.cat([enters.flatten(2), stays.flatten(2)], 2).transpose(0, 1)


class Lfmmi(torch.autograd.Function):
    """Sum over the batch of denominator less numerator; gives also both sums and the numerator's
    occupancy."""

    @staticmethod
    def forward(
        ctx: Any, scores: Tensor, lengths: Tensor, graph: Any, bigram: Any
    ) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """See the class."""
        plain = scores.detach().float()
        said, said_at = numerator(plain, lengths, graph)
        any_, any_at = denominator(plain, lengths, bigram)
        ctx.save_for_backward(any_at - said_at)
        ctx.mark_non_differentiable(said_at)
        return (any_ - said).sum(), said.sum(), any_.sum(), said_at

    @staticmethod
    def backward(ctx: Any, *grads: Any) -> Any:
        """Gradient with respect to the scores only."""
        return grads[0] * ctx.saved_tensors[0], None, None, None
