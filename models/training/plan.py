"""Which voice says what: a list of utterances to synthesise, and the clips of real people, with their sounds.

The list is made where the project is, the synthesis where there are many processors.
"""

from __future__ import annotations

import gzip
import json
import random
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.training import accents
from models.training.lexicon import T_FOR_TH, Lexicon

if TYPE_CHECKING:  # the list is read where the rest of the project is not installed
    from models.training.texts import Texts

ESPEAK_ACCENTS = (
    *("en-us", "en-us", "en-us-nyc", "en-gb", "en-gb", "en-gb", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-gbcwmd"),
)
# fmt: off
ESPEAK_VARIANTS = (
    "Alex", "Alicia", "Andrea", "Andy", "Annie", "Denis", "Diogo", "Gene", "Gene2", "Henrique", "Hugo", "Jacky",
    "Lee", "Marco", "Mario", "Michael", "Mike", "Nguyen", "RicishayMax", "RicishayMax2", "RicishayMax3", "adam",
    "anika", "antonio", "aunty", "belinda", "benjamin", "boris", "caleb", "david", "ed", "edward", "edward2",
    "f1", "f2", "f3", "f4", "grandma", "grandpa", "gustave", "iven", "iven2", "iven3", "iven4", "john",
    "kaukovalta", "linda", "m1", "m2", "m3", "m4", "m5", "m7", "m8", "marcelo", "max", "michel", "miguel",
    "norbert", "pablo", "paul", "pedro", "quincy", "rob", "robert", "sandro", "shelby", "steph", "steph2",
    "steph3", "travis", "victor", "zac",
)
# fmt: on
"""Variants that sound like people; those that croak, whisper or sound like machines are left out."""

ENGINES = ("espeak", "pico", "flite", "festival", "kokoro")
PICO_VOICES = ("en-GB", "en-US")
FLITE_VOICES = ("slt", "slt", "slt", "kal16", "kal")
FESTIVAL_VOICES = ("cmu_us_slt_arctic_hts", "cmu_us_slt_arctic_hts", "kal_diphone", "ked_diphone")

# fmt: off
KOKORO_AMERICAN = (
    "af_alloy", "af_aoede", "af_bella", "af_heart", "af_jessica", "af_kore", "af_nova", "af_river", "af_sarah",
    "af_sky", "am_adam", "am_echo", "am_eric", "am_fenrir", "am_liam", "am_michael", "am_onyx", "am_puck",
)
KOKORO_BRITISH = (
    "bf_alice", "bf_emma", "bf_isabella", "bf_lily", "bm_daniel", "bm_fable", "bm_george", "bm_lewis",
)
KOKORO_FOREIGN = (
    "ef_dora", "em_alex", "ff_siwis", "hf_alpha", "hf_beta", "hm_omega", "hm_psi", "if_sara", "im_nicola", "jf_alpha",
    "jf_gongitsune", "jf_nezumi", "jf_tebukuro", "jm_kumo", "pf_dora", "pm_alex", "zf_xiaobei", "zf_xiaoni",
    "zf_xiaoxiao", "zf_xiaoyi", "zm_yunjian", "zm_yunxi", "zm_yunxia", "zm_yunyang",
)
# fmt: on
"""By where they come from; those from elsewhere speak English too. One that whispers and three that act are left
out."""

FOREIGN, OTHER_ACCENT, MIXED = 0.2, 0.15, 0.4
"""Shares of Kokoro's voices: from elsewhere; British and American words the other way round; mixed of two."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """One utterance to synthesise."""

    engine: str
    voice: str
    speed: float
    """1 is the voice's own."""
    pitch: float
    """1 is the voice's own."""
    text: str
    """As the voice has to read it."""
    sounds: list[list[int]]
    """For each word, its sounds as numbers of the lexicon's phones."""


def planned(settings: dict[str, Any], texts: Texts, lexicon: Lexicon) -> Iterator[Spoken]:
    """Every utterance, one synthesiser after the other, so that a slow one holds up no piece but its own."""
    rng = random.Random(settings["plan"]["seed"])
    kept = set(settings["plan"]["kept_apart"])
    number = {phone: n for n, phone in enumerate(lexicon.phones)}
    for engine in (name for name in ENGINES for _ in range(settings["plan"][name])):
        said_otherwise = _accent(engine, settings["plan"], lexicon, rng)
        text = texts.draw()
        while said_otherwise and not set(text.split()) & said_otherwise.keys():
            text = texts.draw()
        words = [_said(word, lexicon, rng, said_otherwise) for word in text.split()]
        spelt, sounds = " ".join(spelling for spelling, _ in words), [[number[p] for p in said] for _, said in words]
        voice = _voice(engine, kept, rng)
        speed, pitch = round(rng.uniform(0.75, 1.4), 2), round(rng.uniform(0.72, 1.35), 2)
        yield Spoken(engine, voice, speed, pitch, spelt, sounds)


Otherwise = Mapping[str, Mapping[str, str]]
"""Words that an accent says in another way: by spellings that make the voice say so, the sounds that are heard then."""


def _accent(engine: str, shares: Mapping[str, Any], lexicon: Lexicon, rng: random.Random) -> Otherwise:
    if rng.random() < shares["t_for_th"]:
        return T_FOR_TH
    if engine not in accents.ENGINES or rng.random() > shares["accents"]:
        return {}
    accent = rng.choice(rng.choice(accents.EVERY))
    otherwise = T_FOR_TH if accent.get("th", "").startswith("t") else {}
    return {
        word: {spelling: next(iter(otherwise.get(word, {}).values()), " ".join(lexicon.words[word]))}
        for word in accents.NUMBERS
        if (spelling := accents.spelt(word, accent))
    }


def _said(word: str, lexicon: Lexicon, rng: random.Random, otherwise: Otherwise) -> tuple[str, Sequence[str]]:
    """How a voice is made to say the word, and its sounds then."""
    if word not in otherwise:
        return word, lexicon.words[word]
    spelling, sounds = rng.choice(list(otherwise[word].items()))
    return spelling, sounds.split()


def _voice(engine: str, kept: set[str], rng: random.Random) -> str:
    if engine == "espeak":
        variants = [variant for variant in ESPEAK_VARIANTS if variant not in kept]
        return f"{rng.choice([a for a in ESPEAK_ACCENTS if a not in kept])}+{rng.choice(variants)}"
    if engine == "kokoro":
        return _natural(kept, rng)
    return rng.choice({"pico": PICO_VOICES, "flite": FLITE_VOICES, "festival": FESTIVAL_VOICES}[engine])


def _natural(kept: set[str], rng: random.Random) -> str:
    home, away = ("en-gb", "en-us") if rng.random() < 0.4 else ("en-us", "en-gb")
    likely = KOKORO_BRITISH if home == "en-gb" else KOKORO_AMERICAN
    names = [
        rng.choice([name for name in (KOKORO_FOREIGN if rng.random() < FOREIGN else likely) if name not in kept])
        for _ in range(2 if rng.random() < MIXED else 1)
    ]
    return "+".join((away if rng.random() < OTHER_ACCENT else home, *names))


def write_plan(path: Path, utterances: Iterator[Spoken], lexicon: Lexicon) -> int:
    """Writes the list; gives how many."""
    with gzip.open(path, "wt", encoding="utf-8") as file:
        file.write(json.dumps({"phones": lexicon.phones}) + "\n")
        count = 0
        for utterance in utterances:
            count += 1
            file.write(json.dumps(asdict(utterance), separators=(",", ":")) + "\n")
    return count


def read_plan(path: Path) -> tuple[list[str], list[Spoken]]:
    """The phones and the utterances."""
    with gzip.open(path, "rt", encoding="utf-8") as file:
        phones = json.loads(file.readline())["phones"]
        return phones, [Spoken(**json.loads(line)) for line in file]


def pack_people(settings: dict[str, Any], lexicon: Lexicon, sources: Sequence[Path], target: Path) -> int:
    """The clips of real people that may be trained on: their files end to end, and a list of them. Gives how many.

    A clip is left out for its licence, its speaker (held out), its folder, or a word without sounds.
    """
    number = {phone: n for n, phone in enumerate(lexicon.phones)}
    held_out, licences = set(settings["plan"]["held_out_speakers"]), settings["plan"]["licences"]
    listed = []
    with target.with_suffix(".bin").open("wb") as packed:
        for source, clip in _clips(sources):
            text = clip["transcript"].lower().strip(".,?!")
            sounds = lexicon.sounds(text)
            allowed = any(clip["licence"].startswith(licence) for licence in licences)
            left_out = clip["file"].split("/")[1] in settings["plan"]["left_out_folders"]
            if sounds is None or clip["speaker"] in held_out or left_out or not allowed:
                continue
            content = _readable(source / clip["file"])
            speaker = clip["speaker"] if clip["speaker_known"] else clip["file"]
            place = (packed.tell(), len(content))
            packed.write(content)
            listed.append((speaker, text, [[number[p] for p in word] for word in sounds], *place))
    target.with_suffix(".json").write_text(json.dumps(listed), encoding="utf-8")
    return len(listed)


def _clips(sources: Sequence[Path]) -> Iterator[tuple[Path, dict[str, Any]]]:
    for source in sources:
        for line in (source / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
            yield source, json.loads(line)


def _readable(clip: Path) -> bytes:
    """The clip as it is; as WAV where libsndfile cannot read it (Ogg Opus below half a second) and opusdec can."""
    import soundfile

    try:
        soundfile.info(clip)
    except soundfile.LibsndfileError:
        with tempfile.TemporaryDirectory() as folder:
            wave = Path(folder) / "clip.wav"
            command = ["opusdec", "--quiet", "--rate", "16000", str(clip), str(wave)]
            if shutil.which("opusdec") and subprocess.run(command, capture_output=True).returncode == 0:
                return wave.read_bytes()
    return clip.read_bytes()
