"""A net small enough to be made in a test, in the forms in which training leaves one. Needs torch."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import torch

from models.training.export import write
from models.training.net import Net

PHONES = ("SIL", "AH", "B")


def tiny_net(folder: Path) -> tuple[Net, Path, Mapping[str, Any]]:
    """A net that learned nothing, with normalisations as if it had; the folder of its model; settings to export with.
    Beside that folder lies `tiny.pt`, what a training leaves.
    """
    torch.manual_seed(3)
    net = Net(len(PHONES), width=16, blocks=2)
    for name, value in net.state_dict().items():
        if name.endswith("running_mean"):
            value.normal_(0, 0.5)
        elif name.endswith("running_var"):
            value.uniform_(0.5, 2)
    net.eval()
    settings = {"export": {"self_loop": 0.7}}
    torch.save({"weights": net.state_dict(), "shape": net.shape, "phones": list(PHONES)}, folder / "tiny.pt")
    write(settings, folder / "tiny.pt", folder / "model", small=False)
    return net, folder / "model", settings
