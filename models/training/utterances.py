"""The sound of all utterances on the device, put together to batches and to babble in the background."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from models.training.augment import Room
from models.training.batches import Batch, People

REAL_BABBLE = 0.5
"""Share of the people in the background who are real, where there are such."""


class Sound:
    """The sound of all utterances on the device: people first, then pieces of synthetic speech as they come."""

    def __init__(self, work: Path, people: People, device: torch.device, samples: int) -> None:
        self._folder, self._device = work / "speech", device
        self.flat = torch.zeros(samples, dtype=torch.int16, device=device)
        self.end = 0
        self.pieces: list[Path] = []
        for wave in people.waves:
            self._append(torch.from_numpy(wave))
        self._people = self.end

    def _append(self, wave: Tensor) -> bool:
        if self.end + len(wave) > len(self.flat):
            return False
        self.flat[self.end : self.end + len(wave)] = wave.to(self._device)
        self.end += len(wave)
        return True

    def look(self) -> list[Path]:
        """Takes in the pieces that have come since, in whatever order they come; gives those."""
        there = {file for file in self._folder.glob("*.npz") if file.stem.isdigit()}
        come = []
        for file in sorted(there - set(self.pieces)):
            with np.load(file) as piece:
                if not self._append(torch.from_numpy(piece["sound"])):
                    break
            come.append(file)
        self.pieces += come
        return come

    def assembled(self, batch: Batch) -> tuple[Tensor, Tensor]:
        """(B, N): the wave of every item, and 1 where somebody speaks."""
        t = torch.arange(batch.samples, device=self._device)[None]
        wave = torch.zeros(len(batch.speed), batch.samples, device=self._device)
        speech = torch.zeros_like(wave)
        for turn in range(batch.source.shape[1]):
            source, at, length = (
                torch.from_numpy(values[:, turn, None]).to(self._device)
                for values in (batch.source, batch.at, batch.length)
            )
            inside = (t >= at) & (t < at + length)
            loudness = torch.from_numpy(batch.loudness[:, turn, None]).to(self._device)
            where = torch.where(inside, source + t - at, 0)
            wave += torch.where(inside, self.flat[where].float() / 32768 * loudness, 0.0)
            speech += inside
        return wave, speech

    def babble(self, room: Room, many: int, samples: int) -> Tensor:
        """(B, N): one to eight other people at a time, each a stretch of what lies end to end."""
        t = torch.arange(samples, device=self._device)[None]
        total = torch.zeros(many, samples, device=self._device)
        for chance in (1.0, 0.85, 0.7, 0.55, 0.4, 0.3, 0.2, 0.1):
            ends = torch.where(room.dice.happens(REAL_BABBLE, many, 1) > 0, self._people, self.end)
            start = (room.dice.between(0, 1, many, 1) * (ends - samples).clamp_min(0)).long()
            voice = self.flat[start + t].float() / 32768
            total += room.dice.happens(chance, many, 1) * room.dice.between(0.4, 1, many, 1) * voice
        return total
