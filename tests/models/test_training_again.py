"""A training goes on from what an earlier one left: the same net, a larger one, or the average of two."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

torch: Any = pytest.importorskip("torch", reason="torch is not installed: pip install 'tamponade-log[training]'")

from models.training import again, features, kaldi  # noqa: E402  (they need torch)
from models.training.__main__ import chosen  # noqa: E402
from models.training.export import write  # noqa: E402
from models.training.net import Net  # noqa: E402
from tests.voice.tiny_net import PHONES, tiny_net  # noqa: E402


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> tuple[Net, Path, Mapping[str, Any]]:
    return tiny_net(tmp_path_factory.mktemp("tiny"))


def test_a_net_read_back_computes_what_the_exported_one_did(exported: tuple[Net, Path, Mapping[str, Any]]) -> None:
    """In training as in use: its normalisations stand on what the layers show on the batch given."""
    net, model, _ = exported
    layers = again.read_layers(again.net_file(model, "first"))
    other = Net(**again.shape_of(layers))
    assert other.shape == net.shape
    batch = 20 * torch.randn(4, features.BANDS, 60, generator=torch.Generator().manual_seed(1))
    again.take_over(other, layers, batch)
    with torch.no_grad():
        wanted, trained, used = net(batch), other.train()(batch), other.eval()(batch)
    assert trained.numpy() == pytest.approx(wanted.numpy(), abs=2e-3)
    assert used.numpy() == pytest.approx(wanted.numpy(), abs=2e-2)  # the batch given is a hundredth of its memory


def test_a_training_that_was_cut_off_goes_on_from_its_draft_which_counts_only_if_every_net_has_one(
    exported: tuple[Net, Path, Mapping[str, Any]], tmp_path: Path
) -> None:
    net, model, _ = exported
    saved = torch.load(model.parent / "tiny.pt", weights_only=True)
    for name in ("one-draft", "two-draft", "two"):
        saved["weights"]["out.bias"] = saved["weights"]["out.bias"] + 1
        torch.save(saved, tmp_path / f"{name}.pt")
    assert [file.name for file in again.draft_files(tmp_path, ["one", "two"])] == ["one-draft.pt", "two.pt"]
    assert again.draft_files(tmp_path, ["one", "three"]) == []
    begun, other = again.Begun(tmp_path, {"one": net.shape, "two": net.shape}), Net(**net.shape)
    assert begun.phones == list(PHONES)
    begun.take_over(1, other, torch.zeros(1, features.BANDS, 60))
    assert other.out.bias.detach().numpy() == pytest.approx(net.out.bias.detach().numpy() + 3, abs=1e-5)
    assert other.first.weight.equal(net.first.weight)


def test_an_exported_model_is_begun_from_where_there_is_no_draft(
    exported: tuple[Net, Path, Mapping[str, Any]],
) -> None:
    net, model, _ = exported
    begun, other = again.Begun(model, {"first": net.shape}), Net(**net.shape)
    assert begun.phones == list(PHONES)
    batch = 20 * torch.randn(2, features.BANDS, 60, generator=torch.Generator().manual_seed(2))
    begun.take_over(0, other, batch)
    with torch.no_grad():
        assert other.train()(batch).numpy() == pytest.approx(net(batch).numpy(), abs=2e-3)


def test_a_net_of_its_own_name_lies_in_a_folder_of_that_name(tmp_path: Path) -> None:
    (tmp_path / "second").mkdir()
    assert again.net_file(tmp_path, "second") == tmp_path / "second" / "am" / "final.mdl"
    assert again.net_file(tmp_path, "first") == tmp_path / "am" / "final.mdl"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"something else", "no net in it"),
        (b"<ComponentName> out <FixedAffineComponent> <LinearParams> XX ", "instead of FM or CM"),
    ],
)
def test_what_is_no_net_is_named(tmp_path: Path, content: bytes, told: str) -> None:
    file = tmp_path / "final.mdl"
    file.write_bytes(content)
    with pytest.raises(ValueError, match=told) as error:
        again.read_layers(file)
    assert str(file) in str(error.value)


def test_a_byte_for_each_weight_reads_back_as_it_was_written() -> None:
    values = np.random.default_rng(4).normal(size=(24, 9))
    found, rest = kaldi.expanded(kaldi.compressed(values)[3:] + b"after")
    assert rest == b"after"
    assert found == pytest.approx(kaldi.uncompressed(values))
    assert kaldi.compressed(found) == kaldi.compressed(values)


@pytest.mark.parametrize("share", [0.0, 0.25, 1.0])
def test_the_average_of_two_models_lies_between_them(
    exported: tuple[Net, Path, Mapping[str, Any]], tmp_path: Path, share: float
) -> None:
    net, model, settings = exported
    saved = torch.load(model.parent / "tiny.pt", weights_only=True)
    saved["weights"] = {name: value + 1 if name == "out.bias" else value for name, value in saved["weights"].items()}
    torch.save(saved, tmp_path / "other.pt")
    write(dict(settings), tmp_path / "other.pt", tmp_path / "further", small=False)
    again.average(model, tmp_path / "further", ["tiny"], share, tmp_path)
    write(dict(settings), tmp_path / "tiny.pt", tmp_path / "mixed", small=False)
    found = again.read_layers(again.net_file(tmp_path / "mixed", "tiny"))
    wanted = again.read_layers(again.net_file(model, "tiny"))
    assert found["out"].bias == pytest.approx(wanted["out"].bias + share, abs=1e-4)
    assert found["block1"].weights == pytest.approx(wanted["block1"].weights, abs=1e-4)
    assert net.shape == again.shape_of(found)


def test_models_of_different_shape_have_no_average(
    exported: tuple[Net, Path, Mapping[str, Any]], tmp_path: Path
) -> None:
    net = Net(len(PHONES), width=16, blocks=1)
    torch.save({"weights": net.state_dict(), "shape": net.shape, "phones": list(PHONES)}, tmp_path / "one.pt")
    write(dict(exported[2]), tmp_path / "one.pt", tmp_path / "one", small=False)
    with pytest.raises(ValueError, match="another shape"):
        again.average(exported[1], tmp_path / "one", ["first"], 0.5, tmp_path)


@pytest.mark.parametrize(
    ("more", "off"), [({"width": 24}, 1e-3), ({"blocks": 4}, 0.1), ({"width": 20, "blocks": 3}, 0.1)]
)
def test_an_exported_net_becomes_a_larger_one_that_computes_nearly_the_same(
    exported: tuple[Net, Path, Mapping[str, Any]], more: dict[str, int], off: float
) -> None:
    """New channels change nothing, new blocks little; both hear and can learn."""
    net, model, _ = exported
    larger = Net(**(net.shape | more))
    batch = 20 * torch.randn(4, features.BANDS, 90, generator=torch.Generator().manual_seed(1))
    again.Begun(model, {"first": larger.shape}).take_over(0, larger, batch)
    with torch.no_grad():
        wanted = net(batch)
    found = larger.train()(batch)
    edge = (wanted.shape[-1] - found.shape[-1]) // 2
    difference = (found - wanted[..., edge : wanted.shape[-1] - edge]).detach()
    assert float(difference.std()) < off * float(wanted.std())
    found.square().mean().backward()
    changed = [larger.out.weight.grad[:, net.shape["width"] :], *(b.weight.grad for b in larger.blocks[2:])]
    assert all(bool((gradient != 0).any()) for gradient in changed if gradient.numel())


def test_a_net_does_not_become_smaller_and_a_draft_keeps_its_shape(
    exported: tuple[Net, Path, Mapping[str, Any]], tmp_path: Path
) -> None:
    net, model, _ = exported
    with pytest.raises(ValueError, match="cannot be gone on from") as error:
        again.Begun(model, {"first": net.shape | {"width": 8}})
    assert str(model) in str(error.value)
    (tmp_path / "tiny.pt").write_bytes((model.parent / "tiny.pt").read_bytes())
    with pytest.raises(ValueError, match="settings it was trained with"):
        again.Begun(tmp_path, {"tiny": net.shape | {"width": 24}})


def test_nets_are_chosen_by_name_in_the_order_given_and_a_name_that_is_none_is_reported() -> None:
    nets = [{"name": "first"}, {"name": "wider"}, {"name": "second"}]
    assert chosen(nets, ["second", "first"]) == [nets[2], nets[0]]
    with pytest.raises(SystemExit, match=r"third: not in the settings, which have first, wider, second"):
        chosen(nets, ["first", "third"])
