"""How long hearing takes: processor time per second of sound, and from the end of speech to the read-back.

    python tests/bench/speed.py

Uses the shipped demonstration.
"""

from __future__ import annotations

import os
import statistics
import time
from importlib.resources import as_file, files

from log.rules.definitions import read_procedure
from voice.engines.models import shipped_model
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.phrases.phrases import compile_phrases
from voice.sound.audio import AudioFile
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE, Segment


def main() -> None:
    """Prints them, with the number of segments and the median and 95th percentile."""
    with as_file(files("tui.demo") / "demo.opus") as path:
        heard = list(segments(AudioFile(path).frames()))
    seconds = sum(segment.seconds for segment in heard)
    print(f"{len(heard)} segments, {seconds:.0f} s of speech, {os.cpu_count()} cores")
    waits = [(s.overheard_until / SAMPLE_RATE) - s.end for s in heard]
    show("end of speech to the endpointer's decision", waits)
    show("from there to the meaning, all hearings", ours(heard))


def ours(heard: list[Segment]) -> list[float]:
    """Seconds for each segment through the real engines in their processes."""
    walls, shipped = [], shipped_model()
    assert shipped is not None, "models/room-en is not there"
    with Ears(compile_phrases(read_procedure("three-lumen")), "log", "both", shipped.path) as ears:
        for segment in heard:
            began = time.perf_counter()
            ears.hear(segment, Listening(lead_word="log"))
            walls.append(time.perf_counter() - began)
    cpu = children_cpu()
    total = sum(segment.seconds for segment in heard)
    print(f"ours: processor time {cpu / total:.3f} x real time (start of the engines included)")
    return walls


def children_cpu() -> float:
    """Processor seconds of ended child processes."""
    times = os.times()
    return times.children_user + times.children_system


def show(what: str, values: list[float]) -> None:
    """Median and 95th percentile in milliseconds."""
    cuts = statistics.quantiles(values, n=20)
    print(f"{what}: p50 {1000 * statistics.median(values):.0f} ms, p95 {1000 * cuts[18]:.0f} ms")


if __name__ == "__main__":
    main()
