"""The nets learn for what they are meant to, from the features that vosk computes, and come out as files it loads."""

from __future__ import annotations

import itertools
import json
import math
import queue
import struct
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from voice.sound.segment import SAMPLE_RATE

torch: Any = pytest.importorskip("torch", reason="torch is not installed: pip install 'tamponade-log[training]'")

from models.training import augment, features, kaldi, train  # noqa: E402  (they need torch)
from models.training.export import write  # noqa: E402
from models.training.net import STRIDE, Net, context  # noqa: E402
from models.training.objective import STAY, sequence_score  # noqa: E402
from tests.voice.tiny_net import PHONES, tiny_net  # noqa: E402

SETTINGS = Path(train.__file__).with_name("settings.toml")
SOUNDS, FRAMES = 3, 4


# The objective, on a case small enough to write down every way through it

Path_ = tuple[tuple[int, ...], tuple[bool, ...]]
"""The sound of every frame, and whether it is the first frame of that sound."""


def every_path() -> Iterator[Path_]:
    for sounds in itertools.product(range(SOUNDS), repeat=FRAMES):
        for begins in itertools.product((True, False), repeat=FRAMES - 1):
            first = (True, *begins)
            if all(first[t] or sounds[t] == sounds[t - 1] for t in range(1, FRAMES)):
                yield sounds, first


def likelihood(path: Path_, scores: Any, follows: Any) -> Any:
    sounds, first = path
    total = follows[SOUNDS, sounds[0]] + scores[0, 2 * sounds[0]]
    for t in range(1, FRAMES):
        entered = follows[sounds[t - 1], sounds[t]] if first[t] else 0.0
        total = total + STAY + entered + scores[t, 2 * sounds[t] + (not first[t])]
    return total


def by_enumeration(scores: Any, sounds: list[int], optional: list[bool], follows: Any) -> float:
    kept = itertools.product(*[(True, False) if may_skip else (True,) for may_skip in optional])
    right = {tuple(sound for sound, keep in zip(sounds, keeps, strict=True) if keep) for keeps in kept}
    found, every = [], []
    for path in every_path():
        score = likelihood(path, scores, follows)
        every.append(score)
        if tuple(itertools.compress(*path)) in right:
            found.append(score)
    return float(torch.logsumexp(torch.stack(found), 0) - torch.logsumexp(torch.stack(every), 0))


def tiny_case(seed: int) -> tuple[Any, Any]:
    generator = torch.Generator().manual_seed(seed)
    scores = torch.randn(1, FRAMES, 2 * SOUNDS, generator=generator)
    return scores, torch.log_softmax(torch.randn(SOUNDS + 1, SOUNDS, generator=generator), 1)


def padded(sounds: list[int], optional: list[bool]) -> tuple[Any, Any, Any]:
    more = max(3 - len(sounds), 0)
    return (
        torch.tensor([sounds + [0] * more]),
        torch.tensor([optional + [False] * more]),
        torch.tensor([len(sounds)]),
    )


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("sounds", "optional"),
    [
        ([0, 1, 0], [True, False, True]),
        ([0, 1, 0, 2, 0], [True, False, True, False, True]),
        ([1, 2], [False, False]),
        ([1, 1], [False, False]),
        ([0], [False]),
        ([2, 1, 2, 1], [False] * 4),
    ],
)
def test_the_objective_is_that_of_all_ways_written_down(seed: int, sounds: list[int], optional: list[bool]) -> None:
    scores, follows = tiny_case(seed)
    (found,) = sequence_score(scores, *padded(sounds, optional), follows).tolist()
    assert found == pytest.approx(by_enumeration(scores[0], sounds, optional, follows), abs=1e-4)
    assert found < 1e-4


def test_items_of_a_batch_do_not_touch_each_other() -> None:
    follows = tiny_case(0)[1]
    scores = torch.cat([tiny_case(seed)[0] for seed in (1, 2)])
    sounds, optional = torch.tensor([[0, 1, 0], [1, 2, 0]]), torch.tensor([[True, False, True], [False, False, False]])
    together = sequence_score(scores, sounds, optional, torch.tensor([3, 2]), follows)
    alone = [
        sequence_score(scores[[i]], sounds[[i]], optional[[i]], torch.tensor([n]), follows) for i, n in ((0, 3), (1, 2))
    ]
    assert together.tolist() == pytest.approx([float(one) for one in alone], abs=1e-5)


@pytest.mark.parametrize("size", [1.0, 30.0, 300.0])
def test_its_gradient_is_finite_however_sure_the_net_is(size: float) -> None:
    scores, follows = tiny_case(5)
    scores = (size * scores).requires_grad_()
    sequence_score(scores, *padded([0, 1, 0], [True, False, True]), follows).sum().backward()
    assert bool(torch.isfinite(scores.grad).all())
    assert float(scores.grad.abs().sum()) > 0


def test_learning_it_makes_the_right_sequence_likelier() -> None:
    scores, follows = tiny_case(6)
    scores.requires_grad_()
    case = padded([0, 1, 0], [True, False, True])
    before = sequence_score(scores, *case, follows).sum()
    before.backward()
    after = sequence_score((scores + 0.1 * scores.grad).detach(), *case, follows).sum()
    assert float(after) > float(before.detach())


# The features


@pytest.mark.parametrize("level", [30, 1000, 20000])
def test_the_features_are_those_of_the_reference(level: int) -> None:
    reference = pytest.importorskip("kaldi_native_fbank", reason="kaldi-native-fbank is not installed")
    wave = np.random.default_rng(level).normal(0, level, SAMPLE_RATE).clip(-32768, 32767).round()
    options = reference.MfccOptions()
    options.frame_opts.dither, options.frame_opts.samp_freq = 0, SAMPLE_RATE
    options.mel_opts.num_bins = options.num_ceps = features.BANDS
    options.mel_opts.low_freq, options.mel_opts.high_freq = features.LOW, features.HIGH
    options.use_energy = False
    other = reference.OnlineMfcc(options)
    other.accept_waveform(SAMPLE_RATE, wave.tolist())
    other.input_finished()
    wanted = np.stack([other.get_frame(frame) for frame in range(other.num_frames_ready)])
    found = features.Mfcc(torch.device("cpu"))(torch.tensor(wave / 32768, dtype=torch.float32)[None])[0].numpy()
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() < 0.02


def test_a_longer_vocal_tract_moves_the_bands_and_one_a_hundredth_longer_hardly() -> None:
    mfcc = features.Mfcc(torch.device("cpu"))
    wave = 0.1 * torch.randn(2, SAMPLE_RATE, generator=torch.Generator().manual_seed(0))
    middle = torch.full((2,), features.WARPS // 2)
    plain = mfcc.bands(wave)
    little, much = (float((mfcc.bands(wave, warp) - plain).abs().mean()) for warp in (middle, middle + 10))
    assert little < 0.1 < much


@pytest.mark.parametrize(("blots", "bands_hidden"), [(0.0, 0), (1.0, 8), (2.0, 16)])
def test_bands_are_blotted_out_as_wide_as_is_set_and_not_at_all_without(blots: float, bands_hidden: int) -> None:
    """What is blotted out has the mean of the whole; the cosine transform is undone to see it."""
    room = augment.Room(torch.device("cpu"), seed=0, noise_clips=8)
    bands = torch.randn(200, 30, features.BANDS, generator=torch.Generator().manual_seed(0))
    transform = room.mfcc.cepstra(torch.eye(features.BANDS))
    found = room.features(bands, blots) @ torch.linalg.inv(transform)
    hidden = ((found - bands.mean((1, 2), keepdim=True)).abs() < 1e-3).all(1).sum(1)
    most = int(hidden[hidden < features.BANDS].max())
    assert most <= bands_hidden + 1 and most >= bands_hidden - 2
    assert blots or float((found - bands).abs().max()) < 1e-3


# The file that vosk reads

MATRICES = arrays.arrays(
    np.float64, st.tuples(st.integers(5, 40), st.integers(1, 6)), elements=st.floats(-8, 8, width=32)
)


@given(MATRICES)
def test_a_byte_for_each_weight_loses_no_more_than_half_a_step(values: np.ndarray[Any, Any]) -> None:
    """Half a code's width in the value's interval of its column, plus what sixteen bits lose of the interval's ends."""
    found = kaldi.uncompressed(values)
    assert found.shape == values.shape
    reach = float(np.ptp(values)) or 1.0
    ends = 4 * reach / 65535
    ordered = np.sort(values, axis=0)
    rows = len(values)
    marks = ordered[[0, rows // 4, 3 * rows // 4, rows - 1]]
    steps = np.diff(marks, axis=0) / np.diff(kaldi.PERCENTILES)[:, None]
    for column in range(values.shape[1]):
        place = np.searchsorted(marks[1:3, column], values[:, column])
        near = np.stack([steps[(place + k).clip(0, 2), column] for k in (-1, 0, 1)]).max(0)
        assert (np.abs(found - values)[:, column] <= near / 2 + ends + 1e-5).all()


@pytest.mark.parametrize("shape", [(5, 1), (64, 7)])
def test_a_compressed_matrix_is_a_head_then_four_marks_a_column_then_columns_of_codes(shape: tuple[int, int]) -> None:
    values = np.random.default_rng(0).normal(size=shape)
    content = kaldi.compressed(values)
    rows, columns = shape
    assert content.startswith(b"CM ")
    low, reach, said_rows, said_columns = struct.unpack("<ffii", content[3:19])
    assert (said_rows, said_columns) == shape
    assert (low, reach) == pytest.approx((values.min(), np.ptp(values)), rel=1e-6)
    assert len(content) == 3 + 16 + 8 * columns + rows * columns
    marks = np.frombuffer(content[19 : 19 + 8 * columns], "<u2").reshape(columns, 4)
    assert (np.diff(marks.astype(int), axis=1) > 0).all()
    codes = np.frombuffer(content[19 + 8 * columns :], np.uint8).reshape(columns, rows)
    assert (codes[np.arange(columns), values.argmin(0)] == 0).all()
    assert (codes[np.arange(columns), values.argmax(0)] == 255).all()


def test_numbers_come_with_their_length_and_tables_with_their_size() -> None:
    assert kaldi.whole(-2) == b"\x04\xfe\xff\xff\xff"
    assert kaldi.single(1.0) == b"\x04\x00\x00\x80\x3f"
    assert kaldi.double(1.0) == b"\x08" + struct.pack("<d", 1.0)
    assert kaldi.vector(np.array([1.0])) == b"FV " + kaldi.whole(1) + struct.pack("<f", 1.0)
    table = kaldi.matrix(np.array([[1.0, 2.0]]))
    assert table == b"FM " + kaldi.whole(1) + kaldi.whole(2) + struct.pack("<ff", 1.0, 2.0)


# A tiny net, from torch to vosk


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> tuple[Net, Path, Mapping[str, Any]]:
    return tiny_net(tmp_path_factory.mktemp("tiny"))


def scores_of(net: Net, wave: np.ndarray[Any, Any]) -> Any:
    """(T / 3, 2P), the edges repeated as vosk does it."""
    found = features.Mfcc(torch.device("cpu"))(torch.tensor(wave / 32768, dtype=torch.float32)[None])
    frames, edge = found.shape[1], context(net.shape["blocks"])
    wanted = (frames + STRIDE - 1) // STRIDE
    at = torch.arange(STRIDE * (wanted - 1) + 1 + 2 * edge) - edge
    with torch.no_grad():
        return net(found[:, at.clamp(0, frames - 1)].transpose(1, 2))[0].T


def test_the_net_gives_one_output_for_three_frames() -> None:
    net = Net(len(PHONES), width=16, blocks=2).eval()
    for seconds in (0.5, 1.0, 1.01, 1.02):
        wave = np.random.default_rng(0).normal(0, 1000, int(seconds * SAMPLE_RATE))
        frames = 1 + (len(wave) - features.WINDOW) // features.SHIFT
        assert scores_of(net, wave).shape == (math.ceil(frames / STRIDE), 2 * len(PHONES))


def test_vosk_hears_with_an_exported_net_as_torch_computes_it(
    exported: tuple[Net, Path, Mapping[str, Any]],
) -> None:
    """What can be seen through vosk is the likelihood of the best way through a graph. The graph made here has one
    way only: silence from the first frame to the last; its cost is known.
    """
    vosk = pytest.importorskip("vosk")
    from voice.engines.openfst import Arc, Graph, const_bytes, lookahead_bytes
    from voice.engines.vosk_graph import Sounds, Words

    net, model, _ = exported
    sounds, words = Sounds(PHONES), Words({"silence": 1})
    silence = sounds.number("SIL")
    enter_cost, stay_cost, word_cost = 0.25, 0.125, 0.5
    steps = [Arc(0, 1, 2 * silence, 1, enter_cost), Arc(1, 1, 2 * silence - 1, 0, stay_cost)]
    (model / "graph" / "phones").mkdir(parents=True, exist_ok=True)
    (model / "graph" / "HCLr.fst").write_bytes(lookahead_bytes(Graph(2, steps, {1: 0.0}), 1))
    (model / "graph" / "Gr.fst").write_bytes(const_bytes(Graph(2, [Arc(0, 1, 1, 1, word_cost)], {1: 0.0})))
    (model / "graph" / "words.txt").write_text(words.text())
    (model / "graph" / "phones" / "word_boundary.int").write_text(sounds.word_boundary())
    (model / "graph" / "disambig_tid.int").write_text(sounds.disambiguation())
    vosk.SetLogLevel(-2)
    loaded = vosk.Model(model_path=str(model))
    for seed, seconds in ((0, 1.0), (1, 1.7), (2, 2.33)):
        wave = np.random.default_rng(seed).normal(0, 2000, int(seconds * SAMPLE_RATE)).round()
        recogniser = vosk.KaldiRecognizer(loaded, float(SAMPLE_RATE))
        recogniser.SetMaxAlternatives(2)
        recogniser.AcceptWaveform(wave.astype("<i2").tobytes())
        answer = json.loads(recogniser.FinalResult())["alternatives"][0]
        wanted = scores_of(net, wave)
        entered, stayed = float(wanted[0, 0]) - enter_cost, float((wanted[1:, 1] - stay_cost).sum())
        assert answer["text"].strip() == "silence"
        assert answer["confidence"] == pytest.approx(entered + stayed - word_cost, abs=0.02 * len(wanted))


def test_a_byte_for_each_weight_can_be_exported_and_heard_too(
    exported: tuple[Net, Path, Mapping[str, Any]], tmp_path: Path
) -> None:
    vosk = pytest.importorskip("vosk")
    from voice.engines.vosk_model import ModelKind, kind_of, sounds_of

    _, model, settings = exported
    write(dict(settings), model.parent / "tiny.pt", tmp_path / "small", small=True)
    assert (tmp_path / "small" / "am" / "final.mdl").stat().st_size < (model / "am" / "final.mdl").stat().st_size
    assert kind_of(tmp_path / "small") is ModelKind.OURS
    assert sounds_of(tmp_path / "small").phones == PHONES[1:]
    assert vosk


# Speech that comes while the nets are trained


def test_speech_is_taken_in_as_it_comes_and_drawn_from_where_it_lies(tmp_path: Path) -> None:
    """Pieces of a quick synthesiser overtake those of a slow one; a draft is not there yet."""
    from models.training.batches import Drawer, People
    from models.training.plan import Spoken
    from models.training.utterances import Sound

    def piece(number: int, *values: int, name: str = "{:03d}.npz") -> Path:
        file = tmp_path / "speech" / name.format(number)
        wave = np.concatenate([np.full(SAMPLE_RATE, value, np.int16) for value in values])
        np.savez(file, sound=wave, lengths=np.full(len(values), SAMPLE_RATE), which=np.array(values) - 1)
        return file

    (tmp_path / "speech").mkdir()
    people = People(tmp_path)
    sound = Sound(tmp_path, people, torch.device("cpu"), samples=10 * SAMPLE_RATE)
    late, unfinished = piece(7, 3, 4), piece(1, 9, name="{:03d}.draft.npz")
    assert sound.look() == [late]
    early = piece(0, 1, 2)
    assert sound.look() == [early] and sound.look() == []
    assert sound.pieces == [late, early] and unfinished not in sound.pieces
    news: list[queue.SimpleQueue[Path]] = [queue.SimpleQueue(), queue.SimpleQueue()]
    train.tell(news, sound.pieces)
    assert [[maker.get() for _ in range(2)] for maker in news] == [[late, early]] * 2

    settings = tomllib.loads(SETTINGS.read_text(encoding="utf-8"))
    settings["augment"] |= {"human": 0.0, "noise_only": 0.0, "cut_short": 0.0}
    plan = [Spoken("espeak", "a voice", 1.0, 1.0, "a word", [[value]]) for value in (1, 2, 3, 4)]
    drawer = Drawer(settings, plan, people, seed=0)
    for file in sound.pieces:
        with np.load(file) as content:
            drawer.add(content["lengths"], content["which"])
    batch = drawer.draw(40)
    heard = [int(sound.flat[start]) for start in batch.source[:, 0]]
    said = [int(sequence[sequence > 0][0]) for sequence in batch.sounds]
    assert heard == said and set(said) == {1, 2, 3, 4}
