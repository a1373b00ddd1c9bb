"""Makes `models/people-en`: `python -m models.training.people all --weights model.bin`. Steps: `plan`, `synthesise`,
`train` (a GPU) and `export`. The first two are those of `models.training`, with the settings beside this file.
"""

from __future__ import annotations

import argparse
import os
import tomllib
from pathlib import Path

from models.training.plan import ENGINES

SETTINGS = Path(__file__).with_name("settings.toml")
STEPS = ("plan", "synthesise", "train", "export")


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m models.training.people", description=__doc__)
    parser.add_argument("step", choices=[*STEPS, "all"])
    parser.add_argument("--weights", type=Path, required=True, help="model.bin of the general recogniser")
    parser.add_argument("--work", type=Path, default=Path("build/people"), help="where everything is kept")
    parser.add_argument("--settings", type=Path, default=SETTINGS)
    parser.add_argument("--engines", nargs="+", choices=ENGINES, default=ENGINES, help="let these alone speak")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 2)
    parser.add_argument("--minutes", type=float, default=24.0, help="how long to train")
    parser.add_argument("--from", dest="draft", type=Path, help="go on from this draft of a training")
    parser.add_argument("--spent", type=float, default=0.0, help="minutes of --minutes that --from has been trained")
    parser.add_argument("--net", type=Path, help="where the trained net is (default: in --work)")
    parser.add_argument("--out", type=Path, default=Path("models/people-en"), help="the model's folder")
    options = parser.parse_args()
    options.net = options.net or options.work / "people.npz"
    options.work.mkdir(parents=True, exist_ok=True)
    for step in STEPS if options.step == "all" else (options.step,):
        run(step, options)


def run(step: str, options: argparse.Namespace) -> None:
    """One step."""
    settings = tomllib.loads(options.settings.read_text(encoding="utf-8"))
    if step in ("plan", "synthesise"):
        from models.training import __main__ as general

        {"plan": general.plan, "synthesise": general.synthesise}[step](options, settings)
    elif step == "train":
        from models.training.people.train import train

        train(
            settings,
            options.work,
            options.weights,
            options.net,
            options.minutes,
            options.draft,
            options.spent,
        )
    else:
        from models.training.people.export import export

        export(options.weights, options.net, options.out)


if __name__ == "__main__":
    main()
