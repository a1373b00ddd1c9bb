"""Fine-tunes the encoder by CTC (Graves et al. 2006): the sounds in order, the blank between them, no alignments.

Batches, voices, people and the noise of the room are those of `models.training`. The nearer a layer is to the sound,
the less it learns, so that what the net knows of people stays.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from models.training.augment import Noises, Room, at_speed
from models.training.batches import Batch, People, produce
from models.training.features import SAMPLE_RATE
from models.training.people.encoder import Encoder, LogMel, with_weights
from models.training.people.weights import encoder_weights
from models.training.plan import read_plan
from models.training.train import SMALLEST_PIECES, tell
from models.training.utterances import Sound

PRODUCERS = 5
SAID_SECONDS, DRAFT_SECONDS = 20, 60
AVERAGE_KEEPS = 0.995
BLOTS = ((1, 14, 0.5), (1, 14, 0.25), (2, 14, 0.5), (2, 14, 0.5))
"""Axis (1 bands, 2 frames), most of them, chance of what is blotted out (SpecAugment, Park et al. 2019)."""


def train(
    settings: dict[str, Any],
    work: Path,
    weights: Path,
    target: Path,
    minutes: float,
    draft: Path | None = None,
    spent: float = 0.0,
) -> None:
    """Fine-tunes for so many minutes; `work` holds the plan, the people and the pieces of speech, as they come.

    Writes `target`, an .npz in half precision, and a draft of it every minute. A training that was cut off goes on from
    its `draft`, as if `spent` of the minutes were over.
    """
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(settings["train"]["seed"])
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    sounds, plan = read_plan(work / "plan.jsonl.gz")
    people = People(work)
    sound = Sound(work, people, device, samples=sum(map(len, people.waves)) + len(plan) * 40_000)
    while len(sound.pieces) < SMALLEST_PIECES:
        sound.look()
        time.sleep(1)
    spawn = torch.multiprocessing.get_context("spawn")
    batches, news = spawn.Queue(8), [spawn.Queue() for _ in range(PRODUCERS)]
    for maker, pieces in enumerate(news):
        drawing = (settings, work, settings["train"]["batch"], 100 + maker, pieces, batches)
        spawn.Process(target=produce, args=drawing, daemon=True).start()
    tell(news, sound.pieces)
    recorded = recorded_noise(Path(settings["paths"]["noise"]), settings["augment"]["recorded_noise"])
    room = Room(device, settings["train"]["seed"], 2400 if device.type == "cuda" else 80, recorded)
    learner = Learner(settings, len(sounds), encoder_weights(weights), device)
    if draft is not None:
        learner.begin_from(draft)
    print(f"train: {device}, {len(people.waves)} clips of people, {len(sounds)} sounds", flush=True)
    said = drafted = time.monotonic()
    began = said - 60 * spent
    while (part := (time.monotonic() - began) / 60 / minutes) < 1:
        learner.step(batches.get(timeout=600), sound, room, part)
        if time.monotonic() - said > SAID_SECONDS:
            said = time.monotonic()
            room.noises.renew()
            tell(news, sound.look())
            print(f"{part * minutes:.1f} min, {len(sound.pieces)} pieces, {learner.told()}", flush=True)
        if time.monotonic() - drafted > DRAFT_SECONDS:
            drafted = time.monotonic()
            learner.write(target, sounds)
    learner.write(target, sounds)
    print(f"train: done, {learner.steps} steps", flush=True)


def recorded_noise(folder: Path, many: int) -> Tensor | None:
    """(many, samples of a clip of noise): stretches of recordings, short ones repeated. None where there are none."""
    import soundfile

    files = sorted(folder.glob("*.opus"))
    if not files or not many:
        return None
    rng, samples = np.random.default_rng(0), Noises.SECONDS * SAMPLE_RATE
    read = [np.asarray(soundfile.read(file, dtype="float32")[0], np.float32) for file in files]
    clips = []
    for number in range(many):
        wave = read[number % len(read)]
        clips.append(np.take(wave, np.arange(samples) + rng.integers(len(wave)), mode="wrap"))
    return torch.from_numpy(np.stack(clips))


class Learner:
    """The net, and one step of learning at a time."""

    def __init__(self, settings: dict[str, Any], sounds: int, arrays: Any, device: torch.device) -> None:
        self._settings, self._augment, self._device = settings["train"], settings["augment"], device
        self.net: Encoder = with_weights(arrays, sounds, self._settings["dropout"]).to(device)
        self._mel = LogMel().to(device)
        groups = self.net.from_bottom()
        below = [self._settings["lower"] ** (len(groups) - 2 - depth) for depth in range(len(groups) - 1)]
        self._shares = [*below, self._settings["head"]]
        rated = [{"params": group, "lr": 0.0} for group in groups]
        self._optimiser = torch.optim.AdamW(rated, weight_decay=1e-2, fused=device.type == "cuda")
        self._average: dict[str, Tensor] | None = None
        self.steps = 0
        self._losses: list[tuple[float, float]] = []

    def begin_from(self, draft: Path) -> None:
        """Takes over what `write` wrote; the optimiser begins anew."""
        with np.load(draft) as arrays:
            learnt = {name: torch.from_numpy(arrays[name].astype(np.float32)) for name in arrays if name != "sounds"}
        self.net.load_state_dict(learnt | {"places": self.net.places})

    def step(self, batch: Batch, sound: Sound, room: Room, part: float) -> None:
        """Learns from one batch; `part` is how much of the time is over, 0 to 1."""
        rate = self._rate(part)
        for group, share in zip(self._optimiser.param_groups, self._shares, strict=True):
            group["lr"] = rate * share
        with torch.no_grad():
            heard = self._heard(batch, sound, room, part)
            features = self._blotted(self._blurred(self._mel(heard, self._throats(len(heard), room)), room), room)
        self.net.train()
        with torch.autocast(self._device.type, dtype=torch.bfloat16):
            scores = self.net(features)
        each = self._loss(scores.float(), batch)
        self._optimiser.zero_grad(set_to_none=True)
        each.mean().backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
        self._optimiser.step()
        self.steps += 1
        self._remember(each.detach(), batch)
        if part > self._settings["average_from"]:
            self._take_average()

    def _rate(self, part: float) -> float:
        flat, least = self._settings["flat"], self._settings["least"]
        warm = min(1.0, (self.steps + 1) / self._settings["warm_up_steps"])
        falling = 1.0 if part < flat else least ** ((part - flat) / (1 - flat))
        return float(self._settings["learning_rate"] * warm * falling)

    def _heard(self, batch: Batch, sound: Sound, room: Room, part: float) -> Tensor:
        speed = torch.from_numpy(batch.speed)[:, None].to(self._device)
        wave, speech = sound.assembled(batch)
        wave, speech = at_speed(wave, speed), (at_speed(speech, speed) > 0.5).float()
        first, last = self._augment["snr_low_first"], self._augment["snr_low_last"]
        low = first + (last - first) * min(1.0, part / self._augment["floor_falls_for"])
        babble = sound.babble(room, len(wave), batch.samples)
        return room.heard(wave, speech, babble, (low, self._augment["snr_high"]), self._augment["clean"])

    def _throats(self, many: int, room: Room) -> Tensor:
        """(B): how long everybody's throat is; half of them as they are."""
        widest = self._augment["throats"]
        return 1 + room.dice.happens(0.5, many) * room.dice.between(-widest, widest, many)

    def _blurred(self, features: Tensor, room: Room) -> Tensor:
        """Some as a voice that is made of averages says it: bands and moments run into one another."""
        share = room.dice.happens(self._augment["blurred"], len(features), 1, 1)
        share = share * room.dice.between(0.2, 0.9, len(features), 1, 1)
        blurred = functional.avg_pool2d(features[:, None], 3, stride=1, padding=1, count_include_pad=False)[:, 0]
        return features.lerp(blurred, share)

    def _blotted(self, features: Tensor, room: Room) -> Tensor:
        many, dice = len(features), room.dice
        mean = features.mean((1, 2), keepdim=True)
        for axis, widest, chance in BLOTS:
            width = dice.between(0, widest, many, 1) * dice.happens(chance, many, 1)
            first = dice.between(0, 1, many, 1) * (features.shape[axis] - width)
            at = torch.arange(features.shape[axis], device=self._device)[None]
            hidden = (at >= first) & (at < first + width)
            features = torch.where(hidden[..., None] if axis == 1 else hidden[:, None], mean, features)
        return features

    def _loss(self, scores: Tensor, batch: Batch) -> Tensor:
        """(B) natural log a sound."""
        said = [row[:length][row[:length] != 0] for row, length in zip(batch.sounds, batch.lengths, strict=True)]
        lengths = torch.tensor([len(row) for row in said], device=self._device)
        frames = torch.full((len(said),), scores.shape[1], device=self._device)
        every = torch.from_numpy(np.concatenate(said)).to(self._device)
        chances = functional.log_softmax(scores, -1).transpose(0, 1)
        loss = functional.ctc_loss(chances, every, frames, lengths, reduction="none", zero_infinity=True)
        return loss / lengths.clamp_min(1)

    def _remember(self, each: Tensor, batch: Batch) -> None:
        if self.steps % 20 == 0:
            people = torch.from_numpy(batch.people).to(self._device)
            self._losses.append((float(each[people].mean()), float(each[~people].mean())))

    def told(self) -> str:
        """How it goes, since the last time."""
        people, voices = np.mean(self._losses, 0) if self._losses else (0.0, 0.0)
        self._losses.clear()
        return f"step {self.steps}, loss a sound: people {people:.3f}, voices {voices:.3f}"

    def _take_average(self) -> None:
        now = {name: values.detach().float() for name, values in self.net.state_dict().items()}
        if self._average is None:
            self._average = {name: values.clone() for name, values in now.items()}
        for name, values in self._average.items():
            values.lerp_(now[name], 1 - AVERAGE_KEEPS)

    def write(self, file: Path, sounds: list[str]) -> None:
        """The net, averaged over the last part of the training; its places are those it came with."""
        state = self.net.state_dict() if self._average is None else self._average
        arrays = {name: values.cpu().numpy().astype(np.float16) for name, values in state.items() if name != "places"}
        draft = file.with_suffix(".draft.npz")
        np.savez(draft, sounds=np.array(sounds), **arrays)
        draft.rename(file)
