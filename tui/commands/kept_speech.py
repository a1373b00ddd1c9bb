"""Speech of people that may be kept: as training data in the format of models/training/README.md, and with it in the
same folder who consented to that, when, and under which licence.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from log.basics.errors import InputError
from log.store.files import private_folder, write_private
from voice.sound.audio import flac
from voice.sound.segment import Segment

SOURCE = "voice-check"
"""Folder below `audio`: what `left_out_folders` of the training can name."""

SPEAKER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")

MANIFEST, CONSENT = "manifest.jsonl", "consent.jsonl"


@dataclass(frozen=True, slots=True)
class Keeping:
    """Where speech is kept, whose it is, and by which consent."""

    folder: Path
    speaker: str
    consent: str
    licence: str


@dataclass(frozen=True, slots=True)
class Clip:
    """One prompt that was read."""

    segment: Segment
    transcript: str
    outcome: str


def check(keeping: Keeping) -> None:
    """Raises InputError before anybody has read anything, if it could not be kept."""
    if not SPEAKER.fullmatch(keeping.speaker):
        raise InputError(f'"{keeping.speaker}" is not a speaker id', "give letters, digits, - and _, at most 40")
    private_folder(keeping.folder / "audio" / SOURCE)
    for name in (MANIFEST, CONSENT):
        if (keeping.folder / name).is_dir():
            raise InputError(f"{keeping.folder / name}: is a folder", "choose another one to keep speech in")


def keep(keeping: Keeping, clips: Sequence[Clip], at: datetime) -> int:
    """Writes the clips, then the consent, then the list that names the clips. Gives how many."""
    named: list[dict[str, object]] = []
    for number, clip in enumerate(clips, start=1):
        name = f"audio/{SOURCE}/{keeping.speaker}-{at:%Y%m%dT%H%M%S}-{number:02}.flac"
        write_private(keeping.folder / name, flac(clip.segment.pcm))
        named.append(
            {
                "file": name,
                "transcript": clip.transcript,
                "speaker": keeping.speaker,
                "speaker_known": True,
                "licence": keeping.licence,
                "outcome": clip.outcome,
            }
        )
    told: dict[str, object] = {
        "speaker": keeping.speaker,
        "consent": keeping.consent,
        "licence": keeping.licence,
        "recorded_at": at.isoformat(timespec="seconds"),
        "files": [one["file"] for one in named],
    }
    _append(keeping.folder / CONSENT, [told])
    _append(keeping.folder / MANIFEST, named)
    return len(named)


def _append(path: Path, lines: Sequence[dict[str, object]]) -> None:
    """Adds lines to a file that is its owner's alone."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.writelines(f"{json.dumps(line, ensure_ascii=False)}\n" for line in lines)
        file.flush()
        os.fsync(file.fileno())
