"""The acoustic net: convolutions over time with shortcuts, a third of the frame rate, two outputs for each sound (its
first frame, its other frames). Everything in it can be written in the format that vosk reads.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn

FEATURES = 40
STRIDE = 3

FIRST = (5, 1)
"""Kernel and dilation of the first two layers, at the full frame rate."""

DILATIONS = (1, 1, 1, 2, 2, 2, 3, 3, 1, 1, 1, 1)
"""Of the blocks, in order, at a third of the frame rate."""


class Net(nn.Module):
    """Features (B, 40, T) to log scores (B, 2 x phones, T / 3)."""

    def __init__(self, phones: int, width: int, blocks: int, dropout: float = 0.0) -> None:
        super().__init__()
        self.shape = {"phones": phones, "width": width, "blocks": blocks}
        self.normal = nn.BatchNorm1d(FEATURES, affine=False, momentum=0.02)
        self.first = nn.Conv1d(FEATURES, width // 2, 5, bias=False)
        self.first_normal = nn.BatchNorm1d(width // 2)
        self.slower = nn.Conv1d(width // 2, width, 5, stride=STRIDE, bias=False)
        self.slower_normal = nn.BatchNorm1d(width)
        self.blocks = nn.ModuleList(
            nn.Conv1d(width, width, 3, dilation=DILATIONS[k], bias=False) for k in range(blocks)
        )
        self.normals = nn.ModuleList(nn.BatchNorm1d(width) for _ in range(blocks))
        self.drop = nn.Dropout(dropout)
        self.out = nn.Conv1d(width, 2 * phones, 1)

    def forward(self, features: Tensor) -> Tensor:
        """Every layer takes its context from the features themselves: `features` holds `context` more frames on
        each side than are wanted.
        """
        x = torch.relu(self.first_normal(self.first(self.normal(features))))
        x = self.drop(torch.relu(self.slower_normal(self.slower(x))))
        for k, (block, normal) in enumerate(zip(self.blocks, self.normals, strict=True)):
            edge = DILATIONS[k]
            x = x[..., edge:-edge] + self.drop(torch.relu(normal(block(x))))
        result: Tensor = self.out(x)
        return result


def context(blocks: int) -> int:
    """Frames of features that an output needs on each side."""
    return 2 + 2 + STRIDE * sum(DILATIONS[:blocks])
