"""Retrains the speech model: `python -m models.training all` runs every step that is not done yet.

Steps: `plan` (here), `synthesise` and `train` (where there are many processors and a GPU, or here and slowly),
`export`. Beside them `average`: the model in --out becomes the average of itself and the one it was trained --from.
"""

from __future__ import annotations

import argparse
import os
import random
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from models.training.plan import ENGINES

HERE = Path(__file__).parent
STEPS = ("plan", "synthesise", "train", "export")


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m models.training", description=__doc__)
    parser.add_argument("step", choices=[*STEPS, "average", "all"])
    parser.add_argument("--work", type=Path, default=Path("build/training"), help="where everything is kept")
    parser.add_argument("--settings", type=Path, default=HERE / "settings.toml")
    parser.add_argument("--engines", nargs="+", choices=ENGINES, default=ENGINES, help="let these alone speak")
    parser.add_argument("--minutes", type=float, default=24.0, help="how long to train")
    parser.add_argument("--nets", nargs="+", help="these alone, in this order, of those in the settings")
    parser.add_argument("--from", dest="model", type=Path, help="go on from this model or draft")
    parser.add_argument("--spent", type=float, default=0.0, help="minutes of --minutes that --from has been trained")
    parser.add_argument("--share", type=float, default=0.6, help="of the weights in --out in the average")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 2)
    parser.add_argument("--checkpoints", type=Path, help="where the nets are written (default: in --work)")
    parser.add_argument("--out", type=Path, default=Path("models/room-en"), help="the model's folder")
    options = parser.parse_args()
    settings = tomllib.loads(options.settings.read_text(encoding="utf-8"))
    options.work.mkdir(parents=True, exist_ok=True)
    options.checkpoints = options.checkpoints or options.work
    if options.nets:
        settings["nets"] = chosen(settings["nets"], options.nets)
    steps = {"plan": plan, "synthesise": synthesise, "train": train, "export": export, "average": average}
    for step in STEPS if options.step == "all" else (options.step,):
        steps[step](options, settings)


def chosen(nets: list[dict[str, Any]], names: list[str]) -> list[dict[str, Any]]:
    """The nets of these names, in the order of the names."""
    known = {net["name"]: net for net in nets}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise SystemExit(f"--nets {' '.join(unknown)}: not in the settings, which have {', '.join(known)}")
    return [known[name] for name in names]


def plan(options: argparse.Namespace, settings: dict[str, Any]) -> None:
    """Who says what; and the clips of people."""
    target = options.work / "plan.jsonl.gz"
    if target.exists():
        return
    import pocketsphinx

    from log.definition.load import shipped
    from log.rules.definitions import read_procedure
    from models.training.lexicon import load_lexicon
    from models.training.plan import pack_people, planned, write_plan
    from models.training.texts import Texts, spoken_sentences
    from voice.phrases.phrases import compile_phrases

    lexicon = load_lexicon(Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict")
    procedures = [compile_phrases(read_procedure(name)) for name in shipped()]
    sentences = spoken_sentences(Path(settings["paths"].get("sentences", "")))
    texts = Texts(procedures, lexicon, settings["texts"], random.Random(settings["plan"]["seed"]), sentences)
    people = [folder for folder in map(Path, settings["paths"]["speech"]) if folder.is_dir()]
    if people:
        print(f"plan: {pack_people(settings, lexicon, people, options.work / 'people')} clips of people")
    else:
        print("plan: no clips of people; synthetic speech alone, which does not carry over well to people")
    print(f"plan: {write_plan(target, planned(settings, texts, lexicon), lexicon)} utterances to synthesise")


def synthesise(options: argparse.Namespace, _: dict[str, Any]) -> None:
    """The voices."""
    from models.training.synthesise import synthesise as run

    plan, target, archives = (options.work / name for name in ("plan.jsonl.gz", "speech", "kokoro"))
    run(plan, target, options.processes, archives, options.engines)


def train(options: argparse.Namespace, settings: dict[str, Any]) -> None:
    """The nets; picks up speech that is still being made."""
    from models.training.train import train as run

    run(settings, options.work, options.checkpoints, options.minutes, options.model, options.spent)


def export(options: argparse.Namespace, settings: dict[str, Any]) -> None:
    """A folder that vosk loads."""
    if len(settings["nets"]) != 1:
        raise SystemExit("export: a model has one net: --nets NAME")
    from models.training.export import export as run

    run(settings, options.checkpoints, options.out)


def average(options: argparse.Namespace, settings: dict[str, Any]) -> None:
    """Of a model and of the same trained further, in the place of the latter."""
    from models.training.again import average as run

    if options.model is None:
        raise SystemExit("average: give with --from the model that the one in --out was trained on from")
    with TemporaryDirectory() as folder:  # what was trained stays where it is
        options.checkpoints = Path(folder)
        run(options.model, options.out, [net["name"] for net in settings["nets"]], options.share, options.checkpoints)
        export(options, settings)


if __name__ == "__main__":
    main()
