"""The objective of training: that the right sequence of sounds is more likely than all sequences together
(lattice-free maximum mutual information, Povey et al. 2016), without ever being told when each sound begins.
"""

from __future__ import annotations

import math

import torch
from torch import Tensor

NEVER = -1e4
STAY = math.log(0.5)
"""A sound's frames go on or end with the same chance; how long sounds are, the net tells."""


def sequence_score(scores: Tensor, sounds: Tensor, optional: Tensor, lengths: Tensor, follows: Tensor) -> Tensor:
    """How much more likely the right sequences are than all together (B), natural log, at most about 0.

    `scores` (B, T, 2P): even columns are first frames, odd ones other frames. `sounds` (B, n) and `lengths` (B): the
    right sequence; where `optional` (B, n) is set, a silence may be skipped. `follows` (P + 1, P): log chance of each
    sound after each, in the last row at the start.
    """
    many, frames, columns = scores.shape
    phones, n, device = columns // 2, sounds.shape[1], scores.device
    begin, go_on = scores[..., 0::2], scores[..., 1::2]
    at = sounds[:, None].expand(many, frames, n)
    begins_right, goes_on_right = begin.gather(2, at).unbind(1), go_on.gather(2, at).unbind(1)
    begins, goes_on = begin.unbind(1), go_on.unbind(1)  # one slice at a time would make the way back quadratic
    step = torch.full((many, n), NEVER, device=device)
    step[:, 1:] = follows[sounds[:, :-1], sounds[:, 1:]] + STAY
    skip = torch.full((many, n), NEVER, device=device)
    skip[:, 2:] = torch.where(optional[:, 1:-1], follows[sounds[:, :-2], sounds[:, 2:]] + STAY, NEVER)
    right = torch.full((many, n), NEVER, device=device)
    right[:, 0] = follows[phones][sounds[:, 0]]
    right[:, 1] = torch.where(optional[:, 0], follows[phones][sounds[:, 1]], NEVER)
    right = right + begins_right[0]
    every = follows[phones][None] + begins[0]
    chances = follows[:phones].exp()
    one, two = torch.full((many, 1), NEVER, device=device), torch.full((many, 2), NEVER, device=device)
    for t in range(1, frames):
        top = every.max(1, keepdim=True).values.detach()
        entered = ((every - top).exp() @ chances + 1e-20).log() + top
        every = torch.logaddexp(entered + begins[t], every + goes_on[t]) + STAY
        moved = torch.logaddexp(torch.cat([one, right[:, :-1]], 1) + step, torch.cat([two, right[:, :-2]], 1) + skip)
        right = torch.logaddexp(moved + begins_right[t], right + STAY + goes_on_right[t])
    last = right.gather(1, (lengths - 1)[:, None])[:, 0]
    but_one = right.gather(1, (lengths - 2).clamp_min(0)[:, None])[:, 0]
    may_skip = optional.gather(1, (lengths - 1)[:, None])[:, 0] & (lengths > 1)
    found = torch.where(may_skip, torch.logaddexp(last, but_one), last)
    return found - torch.logsumexp(every, 1)
