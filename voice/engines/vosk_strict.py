"""vosk models that hear a definition's phrases and nothing else: one for each grammar, made once and kept on disk."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from log.basics.errors import EngineError
from voice.engines.dictionary import Lexicon, lexicon
from voice.engines.openfst import const_bytes, lookahead_bytes
from voice.engines.vosk_cache import kept_folder
from voice.engines.vosk_graph import DEFAULTS, GraphParameters, Sounds, Words, pronunciations, sentences, without
from voice.engines.vosk_model import ModelKind, kind_of, sounds_of, trained_words, vocabulary
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import BREATH, ENTRIES, Grammar

FREE = "free"
"""Name of the model, beside those of the grammars, in which any sounds may follow each other: how well it fits says
how far what the grammar heard is forced."""

FREE_SEARCH = {"beam": "8", "lattice-beam": "1", "max-active": "1000"}
"""Only the likelihood of the best way counts; a wide search in noise would take longer than the sound."""

FREE_SOUNDS = GraphParameters(unknown_sound=1.0, unknown_start=0.0, unknown_word=0.0)

FORMAT = 3
"""To be raised whenever the same input makes other files."""


def strict_models(
    model: Path,
    grammars: Mapping[str, Grammar],
    pronunciations: Mapping[str, tuple[str, ...]],
    cache: Path | None = None,
    parameters: GraphParameters = DEFAULTS,
) -> Mapping[str, Path]:
    """Grammar -> the folder of a strict model for it, made now or kept from an earlier time. For a model of our make
    also FREE.

    `pronunciations`: the definition's own (ARPAbet without stress), beside those of the dictionary. Raises
    EngineError if the model cannot be made strict or knows nothing of a grammar, or if a word cannot be pronounced.
    """
    if kind_of(model) is ModelKind.FIXED:
        raise EngineError(f"{model}: this model cannot be made strict", "use one with graph/HCLr.fst and graph/Gr.fst")
    recipe = _Recipe.of(model.resolve(), grammars, pronunciations, parameters)
    try:
        key = recipe.key()
    except OSError as error:
        raise EngineError(f"{model} cannot be read ({error.strerror})", "check who may read the folder") from None
    folder = kept_folder(key, recipe.fill, recipe.complete, cache)
    return {name: folder / name for name in recipe.names}


@dataclass(frozen=True, slots=True)
class _Recipe:
    """The parts that the strict models of one set of grammars are made of."""

    model: Path
    grammars: Mapping[str, Grammar]
    parameters: GraphParameters
    sounds: Sounds | None
    """The sounds of a model of our make; a ready-made one has its own graph of sounds."""
    lexicon: Lexicon
    """For a model of our make."""
    words: Words | None
    """The words of a ready-made model."""

    @classmethod
    def of(
        cls,
        model: Path,
        grammars: Mapping[str, Grammar],
        extra: Mapping[str, tuple[str, ...]],
        parameters: GraphParameters,
    ) -> _Recipe:
        """Reads what is needed of the model and of the dictionary. Raises EngineError."""
        if kind_of(model) is not ModelKind.OURS:
            return cls(model, grammars, parameters, None, {}, vocabulary(model))
        sounds = sounds_of(model)
        said = lexicon({word for grammar in grammars.values() for word in grammar.words}, extra, trained_words(model))
        unknown = {phone for variants in said.values() for phones in variants for phone in phones} - {*sounds.phones}
        if unknown:
            raise EngineError(
                f"{model}: this model has no sound {', '.join(sorted(unknown))}",
                "write [pronunciations] with the ARPAbet symbols the other words use",
            )
        return cls(model, grammars, parameters, sounds, said, None)

    @property
    def names(self) -> tuple[str, ...]:
        """Of the models that are made."""
        return (*self.grammars, *((FREE,) if self.sounds else ()))

    def key(self) -> str:
        """A SHA-256 over everything that goes into the files."""
        said = {
            name: [
                [acceptor.arcs, sorted(acceptor.final), [*map(sorted, acceptor.loops)]]
                for acceptor in self._entries(name)
                if acceptor
            ]
            for name in self.grammars
        }
        free = [asdict(FREE_SOUNDS), FREE_SEARCH]
        content = [FORMAT, asdict(self.parameters), free, said, self.lexicon, self.words.text() if self.words else ""]
        hashed = hashlib.sha256(json.dumps(content, sort_keys=True).encode())
        for path in self._taken_over():
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            hashed.update(f"\n{path.relative_to(self.model).as_posix()} {digest}".encode())
        return hashed.hexdigest()

    def fill(self, folder: Path) -> None:
        """Writes all models. Raises OSError, or EngineError if a grammar cannot be heard at all."""
        for name in self.names:
            for path in self._taken_over():
                take_over = shutil.copyfile if path.parent.name == "conf" else _link
                take_over(path, _place(folder / name / path.relative_to(self.model)))
            for part, content in (self._free() if name == FREE else self._graph(name)).items():
                _place(folder / name / "graph" / part).write_bytes(content)
        if FREE in self.names:
            options = folder / FREE / "conf" / "model.conf"
            kept = (
                line for line in options.read_text(encoding="utf-8").splitlines() if _option(line) not in FREE_SEARCH
            )
            narrow = (f"--{name}={value}" for name, value in FREE_SEARCH.items())
            options.write_text("\n".join((*kept, *narrow, "")), encoding="utf-8")

    def complete(self, folder: Path) -> bool:
        """Whether nothing is missing from what `fill` writes, nor from what it links to."""
        made = (Path("graph", file) for file in ("Gr.fst", "HCLr.fst", "words.txt"))
        files = {*made, *(path.relative_to(self.model) for path in self._taken_over())}
        return all((folder / name / file).is_file() for name in self.names for file in files)

    def _taken_over(self) -> list[Path]:
        """Files of the model that stay as they are."""
        parts = ("am", "conf", "ivector", *(() if self.sounds else ("graph",)))
        files = (path for part in parts for path in sorted((self.model / part).rglob("*")))
        made = (self.model / "graph" / "Gr.fst", self.model / "graph" / "words.txt")
        return [path for path in files if path.is_file() and path not in made]

    def _entries(self, name: str) -> tuple[Acceptor, Acceptor | None]:
        return entry_and_another(self.grammars, name)

    def _graph(self, name: str) -> dict[str, bytes]:
        """The files of a grammar's graph folder that are made."""
        entry, then = self._entries(name)
        said = entry.words | (then.words if then else frozenset())
        words, files = self.words, {}
        if self.sounds:
            words = Words.of(said)
            files = _sounding(self.sounds, {word: self.lexicon[word] for word in said}, words, self.parameters)
        assert words is not None
        entry, then = without(entry, words), then and without(then, words)
        if not entry.arcs[0]:
            raise EngineError(f"{self.model}: this model knows none of the phrases", "install an English model")
        # a ready-made model has one sound for all that is no word, and noise is among it
        parameters = self.parameters if self.sounds else replace(self.parameters, unknown_within=None)
        grammar = sentences(entry, then, words, parameters, must=self.grammars[name].then is not None)
        return files | {"Gr.fst": const_bytes(grammar), "words.txt": words.text().encode()}

    def _free(self) -> dict[str, bytes]:
        """The files of the graph folder in which any sounds may follow each other."""
        assert self.sounds is not None
        words = Words.of(())
        nothing = sentences(Acceptor(({},), frozenset()), None, words, FREE_SOUNDS)
        files = _sounding(self.sounds, {}, words, FREE_SOUNDS)
        return files | {"Gr.fst": const_bytes(nothing), "words.txt": words.text().encode()}


def _sounding(sounds: Sounds, known: Lexicon, words: Words, parameters: GraphParameters) -> dict[str, bytes]:
    """The files of a graph folder that belong to the sounds."""
    graph = pronunciations(sounds, known, words, parameters)
    return {
        "HCLr.fst": lookahead_bytes(graph, len(words.labels)),
        "phones/word_boundary.int": sounds.word_boundary().encode(),
        "disambig_tid.int": sounds.disambiguation().encode(),
    }


def _option(line: str) -> str:
    """The name of an option in a line of a conf file."""
    return line.strip().removeprefix("--").partition("=")[0]


def complete(grammars: Mapping[str, Grammar], name: str, words: Sequence[str]) -> bool:
    """Whether these words are all of what can be said in the strict model of this grammar; no words are."""
    entry, then = entry_and_another(grammars, name)
    one = grammars[name].then is None and entry.accepts(words)
    cuts = range(1, len(words)) if then else ()
    return not words or one or any(entry.accepts(words[:cut]) and then and then.accepts(words[cut:]) for cut in cuts)


def entry_and_another(grammars: Mapping[str, Grammar], name: str) -> tuple[Acceptor, Acceptor | None]:
    """An entry, and another in the same breath if one has to or may follow: one search hears one entry or two."""
    another = grammars[BREATH if name == ENTRIES and BREATH in grammars else name].then
    return grammars[name].entry, another


def _place(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


def _link(source: Path, place: Path) -> None:
    """The same file under another name, for it is large; where the file system cannot do that, a copy."""
    for link in (os.link, os.symlink):
        try:
            link(source, place)
        except OSError:
            continue
        return
    shutil.copyfile(source, place)
