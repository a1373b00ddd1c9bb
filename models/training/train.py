"""Trains the nets: batches are drawn by other processes, put together, spoilt and turned into features on the device.

Takes speech that is still being synthesised as it comes. Writes `NAME.pt` for every net when done, and a draft of it
every few minutes. On a processor instead of a GPU it works the same, at a hundredth of the pace.
"""

from __future__ import annotations

import math
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from models.training.again import Begun, Shape
from models.training.augment import Room, at_speed
from models.training.batches import MOST_SOUNDS, Batch, People, produce
from models.training.net import STRIDE, Net, context
from models.training.objective import sequence_score
from models.training.plan import Spoken, read_plan
from models.training.synthesise import PIECE
from models.training.utterances import Sound

DRAFT_SECONDS = 120
AVERAGED_EVERY = 5
KEPT_OF_AVERAGE = 0.98
PRODUCERS = 3

SMALLEST_PIECES = 4
"""Pieces of synthetic speech to wait for before training begins."""


def follows(plan: list[Spoken], phones: int) -> np.ndarray[Any, np.dtype[np.float64]]:
    """(phones + 1, phones): chance of each sound after each; the last row is the start."""
    counts = np.full((phones + 1, phones), 0.3)
    rng = np.random.default_rng(0)
    for said in plan[:30_000]:
        sequence = [0]
        for word in said.sounds:
            sequence += word
            sequence += [0] if rng.random() < 0.3 else []
        counts[phones, sequence[0]] += 0.8
        counts[phones, sequence[1]] += 0.2
        for before, after in pairwise(sequence):
            counts[before, after] += 1
    chances: np.ndarray[Any, np.dtype[np.float64]] = counts / counts.sum(1, keepdims=True)
    return chances


class Scorer:
    """The objective. On a GPU its thousands of small steps are recorded once for each number of frames and replayed:
    to ask for them one by one takes longer than to do them.
    """

    def __init__(self, follows: Tensor) -> None:
        self._follows = follows
        self._recorded: dict[tuple[int, ...], Any] = {}

    def __call__(self, scores: Tensor, sounds: Tensor, optional: Tensor, lengths: Tensor) -> Tensor:
        """As `sequence_score`."""
        if scores.device.type != "cuda":
            return self._score(scores, sounds, optional, lengths)
        more = MOST_SOUNDS - sounds.shape[1]
        sounds, optional = functional.pad(sounds, (0, more)), functional.pad(optional, (0, more))
        shape = tuple(scores.shape)
        if shape not in self._recorded:
            like = (torch.zeros_like(scores, requires_grad=True), sounds.clone(), optional.clone(), lengths.clone())
            self._recorded[shape] = torch.cuda.make_graphed_callables(self._score, like)
        score: Tensor = self._recorded[shape](scores, sounds, optional, lengths)
        return score

    def _score(self, scores: Tensor, sounds: Tensor, optional: Tensor, lengths: Tensor) -> Tensor:
        return sequence_score(scores, sounds, optional, lengths, self._follows)


def train(
    settings: dict[str, Any], work: Path, target: Path, minutes: float, model: Path | None = None, spent: float = 0.0
) -> None:
    """Trains for the given time. Needs `plan.jsonl.gz`, `people.*` and the first pieces of `speech/` in `work`.

    With `model`, a folder as `Begun` reads it, its nets are trained further, as `[again]` in the settings says; with
    `spent` as if so many of the minutes were over, when a training that was cut off goes on from its draft. Nets that
    are trained together learn from the same batches, drawn by the seed of the first.
    """
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    seed = settings["nets"][0]["seed"]
    torch.manual_seed(seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    target.mkdir(parents=True, exist_ok=True)
    phones, plan = read_plan(work / "plan.jsonl.gz")
    shapes = {
        net["name"]: {"phones": len(phones), "width": net["width"], "blocks": net["blocks"]} for net in settings["nets"]
    }
    begun = None if model is None else Begun(model, shapes)
    if begun is not None and begun.phones != phones:
        raise ValueError(f"{model}: its sounds are not those of {work / 'plan.jsonl.gz'}; make the plan again")
    people = People(work)
    sound = Sound(work, people, device, samples=sum(map(len, people.waves)) + len(plan) * 40_000)
    while len(sound.pieces) < min(SMALLEST_PIECES, len(plan) // PIECE):
        sound.look()
        time.sleep(1)
    context_ = torch.multiprocessing.get_context("spawn")
    batches, news = context_.Queue(6), [context_.Queue() for _ in range(PRODUCERS)]
    many = settings["train"]["batch"]
    makers = [
        context_.Process(target=produce, args=(settings, work, many, seed + maker, pieces, batches), daemon=True)
        for maker, pieces in enumerate(news)
    ]
    for maker in makers:
        maker.start()
    tell(news, sound.pieces)
    room = Room(device, seed, 2400 if device.type == "cuda" else 80)
    learner = Learner(settings, shapes, follows(plan, len(phones)), device, begun)
    print(f"train: {device}, {len(people.waves)} clips of people, {len(phones)} sounds", flush=True)
    said = drafted = time.monotonic()
    began = said - 60 * spent
    while (spent := (time.monotonic() - began) / 60) < minutes:
        part = spent / minutes
        batch = batches.get(timeout=600)
        learner.step(batch, sound, room, part)
        if time.monotonic() - said > 20:
            said = time.monotonic()
            room.noises.renew()
            tell(news, sound.look())
            print(f"{spent:.1f} min, {len(sound.pieces)} pieces, {learner.told()}", flush=True)
        if time.monotonic() - drafted > DRAFT_SECONDS:
            drafted = time.monotonic()
            learner.write(target, "draft", phones)
    learner.write(target, "", phones)
    for maker in makers:
        maker.terminate()
    print(f"train: done, {learner.steps} steps", flush=True)


def tell(makers: list[Any], come: list[Path]) -> None:
    """Tells the processes that draw batches of pieces that have come: of each before the next."""
    for pieces in makers:
        for file in come:
            pieces.put(file)


class Learner:
    """The nets, and one step of learning at a time."""

    def __init__(
        self,
        settings: dict[str, Any],
        shapes: dict[str, Shape],
        chances: np.ndarray[Any, np.dtype[np.float64]],
        device: torch.device,
        begun: Begun | None,
    ) -> None:
        self._settings, self._device = settings["train"], device
        self._augment = settings["augment"]
        self.names = [*shapes]
        self._blots = [float(net["blots"]) for net in settings["nets"]]
        self._begun = begun
        if begun is not None:
            self._settings = self._settings | settings["again"]
        self.nets = [Net(**shape, dropout=self._settings["dropout"]).to(device) for shape in shapes.values()]
        parameters = [parameter for net in self.nets for parameter in net.parameters()]
        self._optimiser = torch.optim.AdamW(parameters, lr=self._settings["learning_rate"], weight_decay=1e-3)
        self._score = Scorer(torch.tensor(np.log(chances), dtype=torch.float32, device=device))
        self._averages: list[dict[str, Tensor]] | None = None
        self.steps = 0
        self._sums = np.zeros(5)

    def step(self, batch: Batch, sound: Sound, room: Room, part: float) -> None:
        """Learns from one batch; `part` is how much of the time is over, 0 to 1."""
        for group in self._optimiser.param_groups:
            group["lr"] = self._learning_rate(part)
        with torch.no_grad():
            bands = self._bands(batch, sound, room, part)
            alike = {blots: room.features(bands, blots) for blots in sorted(set(self._blots))}
        features = [alike[blots] for blots in self._blots]
        sounds, optional, lengths = (
            torch.from_numpy(values).to(self._device) for values in (batch.sounds, batch.optional, batch.lengths)
        )
        if self._begun is not None:
            for number, net in enumerate(self.nets):
                self._begun.take_over(number, net, self._wide(net, features[number]))
            self._begun = None
        outputs = [self._scores(net, heard) for net, heard in zip(self.nets, features, strict=True)]
        if self.steps < self._settings["uniform_steps"]:
            labels = uniform_labels(batch, outputs[0].shape[1]).to(self._device)
            loss = sum(functional.cross_entropy(scores.flatten(0, 1), labels.flatten()) for scores in outputs)
        else:
            copies = len(outputs)
            score = self._score(
                torch.cat(outputs), sounds.repeat(copies, 1), optional.repeat(copies, 1), lengths.repeat(copies)
            )
            frames = outputs[0].shape[1]
            each = (score * (score > -4000) / frames).view(copies, -1)
            small = sum(scores.square().mean() for scores in outputs)
            loss = -each.mean(1).sum() + 5e-4 * small
            self._remember(each.detach(), batch)
        self._optimiser.zero_grad(set_to_none=True)
        loss.backward()
        norms = [nn.utils.clip_grad_norm_(net.parameters(), 2.0) for net in self.nets]
        if all(map(math.isfinite, norms)):
            self._optimiser.step()
        self.steps += 1
        self._sums[0] += 1
        self._sums[1] += batch.samples / 16_000 * len(batch.speed)
        if part > self._settings["average_from"] and self.steps % AVERAGED_EVERY == 0:
            self._average()

    def _learning_rate(self, part: float) -> float:
        rate = float(self._settings["learning_rate"])
        flat = self._settings["flat"]
        warm = min(1.0, (self.steps + 1) / self._settings["warm_up_steps"])
        return float(rate * warm * (1.0 if part < flat else 0.01 ** ((part - flat) / (1 - flat))))

    def _bands(self, batch: Batch, sound: Sound, room: Room, part: float) -> Tensor:
        speed = torch.from_numpy(batch.speed)[:, None].to(self._device)
        wave, speech = sound.assembled(batch)
        wave, speech = at_speed(wave, speed), (at_speed(speech, speed) > 0.5).float()
        first, last = self._augment["snr_low_first"], self._augment["snr_low_last"]
        low = first + (last - first) * min(1.0, part / self._settings["floor_falls_for"])
        babble = sound.babble(room, len(wave), batch.samples)
        return room(wave, speech, babble, (low, self._augment["snr_high"]), self._augment["clean"])

    def _scores(self, net: Net, features: Tensor) -> Tensor:
        """(B, T / 3, 2P) with the edges repeated as vosk does it."""
        with torch.autocast(self._device.type, dtype=torch.bfloat16):
            scores = net(self._wide(net, features))
        return scores.float().transpose(1, 2)

    def _wide(self, net: Net, features: Tensor) -> Tensor:
        """(B, 40, T + context on each side)."""
        frames, edge = features.shape[1], context(net.shape["blocks"])
        wanted = (frames + STRIDE - 1) // STRIDE
        at = torch.arange(STRIDE * (wanted - 1) + 1 + 2 * edge, device=features.device) - edge
        return features[:, at.clamp(0, frames - 1)].transpose(1, 2).contiguous()

    def _remember(self, each: Tensor, batch: Batch) -> None:
        people = torch.from_numpy(batch.people).to(each.device)
        self._sums[2] += 1
        self._sums[3] += float(each[0, people].mean()) if bool(people.any()) else 0.0
        self._sums[4] += float(each[0, ~people].mean())

    def told(self) -> str:
        """How it goes, since the last time."""
        steps, seconds, counted, people, voices = self._sums
        self._sums[:] = 0
        counted = np.maximum(counted, 1)
        return (
            f"step {self.steps} (+{steps:.0f}, {seconds / 3600:.1f} h), loss a frame: "
            f"people {-people / counted:.4f}, voices {-voices / counted:.4f}"
        )

    def _average(self) -> None:
        states = [net.state_dict() for net in self.nets]
        if self._averages is None:
            self._averages = [{name: v.detach().clone().float() for name, v in state.items()} for state in states]
            return
        for average, state in zip(self._averages, states, strict=True):
            for name, value in state.items():
                average[name].mul_(KEPT_OF_AVERAGE).add_(value.float(), alpha=1 - KEPT_OF_AVERAGE)

    def write(self, target: Path, mark: str, phones: list[str]) -> None:
        """The nets' weights, those of convolutions in half precision."""
        for number, (name, net) in enumerate(zip(self.names, self.nets, strict=True)):
            state = self._averages[number] if self._averages is not None else net.state_dict()
            weights = {key: (v.half() if v.ndim == 3 else v.float()).cpu() for key, v in state.items()}
            file = target / f"{name}{'-' + mark if mark else ''}.pt"
            draft = file.with_suffix(".tmp")
            torch.save({"weights": weights, "shape": net.shape, "phones": phones}, draft)
            draft.rename(file)


def uniform_labels(batch: Batch, frames: int) -> Tensor:
    """(B, frames): every item's sounds spread evenly over the time in which somebody speaks, silence around."""
    labels = np.ones((len(batch.speed), frames), np.int64)
    for item, speed in enumerate(batch.speed):
        spoken = batch.sounds[item, : batch.lengths[item]]
        spoken = spoken[spoken > 0]
        used = batch.length[item] > 0
        if not len(spoken) or not used.any():
            continue
        first = batch.at[item][used].min() / speed / (160 * STRIDE)
        last = (batch.at[item] + batch.length[item])[used].max() / speed / (160 * STRIDE)
        edges = np.clip(np.round(np.linspace(first, last, len(spoken) + 1)).astype(int), 0, frames)
        for sound, begin, end in zip(spoken, edges, edges[1:], strict=False):
            labels[item, begin:end] = 2 * sound + 1
            labels[item, begin : begin + 1] = 2 * sound
    return torch.from_numpy(labels)
