"""Strict models are made once, kept, made again when anything changes, and never stand half done."""

from __future__ import annotations

import os
import shutil
import struct
import threading
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from log.basics.errors import EngineError
from log.rules.definitions import load
from tests.voice.read_fst import read
from voice.engines.dictionary import dictionary, lexicon
from voice.engines.openfst import Arc, Graph, const_bytes
from voice.engines.vosk_cache import CACHE_VARIABLE, KEPT, cache_dir, forget_those_of, kept_folder
from voice.engines.vosk_graph import DEFAULTS, UNKNOWN, Sounds
from voice.engines.vosk_model import ModelKind, kind_of, missing_words, trained_words, vocabulary
from voice.engines.vosk_strict import FREE, FREE_SEARCH, FREE_SOUNDS, complete, strict_models
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import BREATH, ENTRIES, Grammar

PHONES = ("SIL", "AE", "AA", "D", "EH", "F", "G", "IH", "K", "N", "P", "R", "S", "SH", "T", "ER", "V", "AY", "IY", "W")
SAYS = Acceptor(({"gastric": 1, "pressure": 1}, {"ten": 2, "five": 2}, {}), frozenset((2,)))
ANOTHER = Acceptor(({"five": 1}, {}), frozenset((1,)))
GRAMMARS = {ENTRIES: Grammar(ENTRIES, SAYS, None, ()), BREATH: Grammar(BREATH, SAYS, ANOTHER, ())}


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    """A model of our make as far as it is looked at."""
    model = tmp_path / "ours"
    for name in ("am", "conf", "graph"):
        (model / name).mkdir(parents=True)
    (model / "phones.txt").write_text("\n".join(PHONES) + "\n")
    start = b"\0B<TransitionModel> <Topology> \x04" + struct.pack("<i", Sounds(PHONES).count)
    (model / "am" / "final.mdl").write_bytes(start + b"the net")
    (model / "conf" / "model.conf").write_text("--beam=13\n")
    return model


@pytest.fixture
def ready_made(tmp_path: Path) -> Path:
    """A model with a graph of its own sounds, as far as it is looked at."""
    model = tmp_path / "theirs"
    for name in ("am/final.mdl", "conf/model.conf", "graph/HCLr.fst", "ivector/final.ie"):
        (model / name).parent.mkdir(parents=True, exist_ok=True)
        (model / name).write_text(name)
    (model / "graph" / "Gr.fst").write_bytes(const_bytes(Graph(1, [Arc(0, 0, 9, 9, 0)], {0: 0})))
    (model / "graph" / "words.txt").write_text("<eps> 0\n[unk] 4\ngastric 9\nfive 2\n")
    return model


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# ---- what is made --------------------------------------------------------------------------------------------------


def test_one_model_for_each_grammar_of_our_make(ours: Path, cache: Path) -> None:
    made = strict_models(ours, GRAMMARS, {}, cache)
    assert made.keys() == {*GRAMMARS, FREE}
    for folder in (made[name] for name in GRAMMARS):
        assert (folder / "am" / "final.mdl").samefile(ours / "am" / "final.mdl")
        assert (folder / "conf" / "model.conf").read_text() == "--beam=13\n"
        assert read((folder / "graph" / "HCLr.fst").read_bytes()).kind == "olabel_lookahead"
        assert (folder / "graph" / "words.txt").read_text().splitlines() == [
            *("<eps> 0", "[unk] 1", "five 2", "gastric 3", "pressure 4", "ten 5")
        ]
        assert {"graph/phones/word_boundary.int", "graph/disambig_tid.int"} < files(folder).keys()


def test_an_entry_may_be_followed_by_another_where_two_can_be_said_in_a_breath(ours: Path, cache: Path) -> None:
    one, two = [3, 2], [3, 2, 2]
    alone = strict_models(ours, {ENTRIES: GRAMMARS[ENTRIES]}, {}, cache)
    both = strict_models(ours, GRAMMARS, {}, cache)
    said = {name: read((both[name] / "graph" / "Gr.fst").read_bytes()) for name in GRAMMARS}
    assert (said[ENTRIES].costs(one), said[ENTRIES].costs(two)) == ([0.0], [DEFAULTS.another_entry])
    assert (said[BREATH].costs(one), said[BREATH].costs(two)) == ([], [DEFAULTS.another_entry])
    without_breath = read((alone[ENTRIES] / "graph" / "Gr.fst").read_bytes())
    assert (without_breath.costs(one), without_breath.costs(two)) == ([0.0], [])


def test_a_model_of_our_make_also_gets_one_in_which_any_sounds_may_follow_each_other(ours: Path, cache: Path) -> None:
    (ours / "conf" / "model.conf").write_text("--acoustic-scale=1.0\n--beam=13\n--max-active=3000")
    made = strict_models(ours, GRAMMARS, {}, cache)
    folder = made[FREE]
    assert (folder / "am" / "final.mdl").samefile(ours / "am" / "final.mdl")
    assert (folder / "graph" / "words.txt").read_text().splitlines() == ["<eps> 0", "[unk] 1"]
    grammar = read((folder / "graph" / "Gr.fst").read_bytes())
    assert (grammar.costs([]), grammar.costs([1])) == ([0.0], [FREE_SOUNDS.unknown_word])
    assert files(folder).keys() == files(made[ENTRIES]).keys()
    sounds = {arc[0] for arcs in read((folder / "graph" / "HCLr.fst").read_bytes()).arcs for arc in arcs} - {0}
    assert max(sounds) <= 2 * Sounds(PHONES).count
    assert (
        len(sounds) > 6 * len(PHONES) - 6
    )  # every sound but silence at the start, within and at the end, two steps each


def test_the_search_among_any_sounds_is_narrow_and_the_others_keep_theirs(ours: Path, cache: Path) -> None:
    given = "--acoustic-scale=1.0\n  --beam=13\n--max-active=3000\n--min-active=200"
    (ours / "conf" / "model.conf").write_text(given)
    made = strict_models(ours, GRAMMARS, {}, cache)
    options = (made[FREE] / "conf" / "model.conf").read_text().splitlines()
    narrow = [f"--{name}={value}" for name, value in FREE_SEARCH.items()]
    assert options == ["--acoustic-scale=1.0", "--min-active=200", *narrow]
    for unchanged in (ours, made[ENTRIES], made[BREATH]):
        assert (unchanged / "conf" / "model.conf").read_text() == given


def test_a_ready_made_model_cannot_be_asked_for_any_sounds(ready_made: Path, cache: Path) -> None:
    assert strict_models(ready_made, {ENTRIES: GRAMMARS[ENTRIES]}, {}, cache).keys() == {ENTRIES}


def test_a_phrase_is_complete_or_it_is_none() -> None:
    assert complete(GRAMMARS, ENTRIES, ["gastric", "ten"])
    assert complete(GRAMMARS, ENTRIES, ["gastric", "ten", "five"])
    assert complete({ENTRIES: GRAMMARS[ENTRIES]}, ENTRIES, ())
    assert not complete({ENTRIES: GRAMMARS[ENTRIES]}, ENTRIES, ["gastric", "ten", "five"])
    assert not complete(GRAMMARS, BREATH, ["gastric", "ten"])
    assert not complete(GRAMMARS, ENTRIES, ["gastric"])


def test_a_ready_made_model_keeps_its_words_and_sounds(ready_made: Path, cache: Path) -> None:
    before = files(ready_made)
    grammar = Grammar(ENTRIES, SAYS, None, ())
    folder = strict_models(ready_made, {ENTRIES: grammar}, {}, cache)[ENTRIES]
    assert (
        files(folder).items()
        >= {k: v for k, v in before.items() if k not in ("graph/Gr.fst", "graph/words.txt")}.items()
    )
    graph = read((folder / "graph" / "Gr.fst").read_bytes())
    assert graph.costs([9, 2]) == [0.0]
    assert graph.costs([4]) == [DEFAULTS.unknown_word]
    assert {arc[0] for arcs in graph.arcs for arc in arcs} == {2, 4, 9}
    assert vocabulary(folder) == vocabulary(ready_made)
    assert missing_words(ready_made, grammar.words) == ("pressure", "ten")
    assert files(ready_made) == before


def test_an_unknown_word_within_a_phrase_is_for_models_of_our_make(ours: Path, ready_made: Path, cache: Path) -> None:
    loops = (frozenset[str](), frozenset({"five"}), frozenset[str]())
    said = Grammar(ENTRIES, Acceptor(({"gastric": 1}, {"ten": 2}, {}), frozenset((1, 2)), loops), None, ())
    for model, within in ((ours, [DEFAULTS.unknown_within]), (ready_made, [])):
        folder = strict_models(model, {ENTRIES: said}, {}, cache)[ENTRIES]
        words, graph = vocabulary(folder).labels, read((folder / "graph" / "Gr.fst").read_bytes())
        assert graph.costs([words["gastric"], words[UNKNOWN]]) == within


def test_words_inside_a_ready_made_grammar_count(ready_made: Path, cache: Path) -> None:
    """The models most people install have no words.txt."""
    (ready_made / "graph" / "words.txt").unlink()
    with pytest.raises(EngineError, match="the model's words cannot be read"):
        vocabulary(ready_made)
    plain = (ready_made / "graph" / "Gr.fst").read_bytes()
    head, has_output_symbols, rest = plain[:29], 2, plain[33:65]
    table = struct.pack("<Ii4sqq", 0x7EB2FB74, 4, b"name", 10, 2)
    table += b"".join(struct.pack("<i", len(w)) + w + struct.pack("<q", n) for w, n in ((b"gastric", 9), (b"five", 2)))
    (ready_made / "graph" / "Gr.fst").write_bytes(
        head + struct.pack("<i", has_output_symbols) + rest + table + plain[65:]
    )
    assert vocabulary(ready_made).labels == {"gastric": 9, "five": 2}
    folder = strict_models(ready_made, {ENTRIES: GRAMMARS[ENTRIES]}, {}, cache)[ENTRIES]
    assert (folder / "graph" / "words.txt").read_text() == "<eps> 0\nfive 2\ngastric 9\n"


def test_a_model_that_knows_nothing_of_a_grammar_is_reported(ready_made: Path, cache: Path) -> None:
    foreign = Grammar(ENTRIES, Acceptor(({"gastric": 1}, {"ballon": 2}, {}), frozenset((2,))), None, ())
    with pytest.raises(EngineError, match="knows none of the phrases"):
        strict_models(ready_made, {ENTRIES: foreign}, {}, cache)
    assert not list(cache_dir(cache).glob("*"))


def test_what_can_be_done_with_a_model_shows_in_its_files(ours: Path, ready_made: Path, tmp_path: Path) -> None:
    assert (kind_of(ours), kind_of(ready_made)) == (ModelKind.OURS, ModelKind.LOOKAHEAD)
    (ready_made / "graph" / "HCLG.fst").touch()
    assert kind_of(ready_made) is kind_of(tmp_path) is ModelKind.FIXED
    with pytest.raises(EngineError, match="cannot be made strict"):
        strict_models(ready_made, GRAMMARS, {}, tmp_path)


@pytest.mark.parametrize("phones", ["SIL AA B", "AA SIL", "", "SIL\nAA\nAA"])
def test_a_list_of_sounds_that_does_not_belong_to_the_net_is_reported(phones: str, ours: Path, cache: Path) -> None:
    (ours / "phones.txt").write_text(phones)
    with pytest.raises(EngineError) as caught:
        strict_models(ours, GRAMMARS, {}, cache)
    assert str(ours) in caught.value.problem


# ---- pronunciations ------------------------------------------------------------------------------------------------


def test_a_word_sounds_as_the_model_was_trained_else_as_the_dictionary_else_as_the_definition_says() -> None:
    trained = {"ten": (("T", "IH", "N"), ("T", "EH", "N"))}
    said = lexicon({"ten", "a", "zorbly"}, {"a": ("EY EY",), "zorbly": ("S K", "S")}, trained)
    assert said == {**trained, "a": (("AH",),), "zorbly": (("S", "K"), ("S",))}


def test_the_words_a_model_was_trained_on_are_read_from_its_folder(ours: Path) -> None:
    assert trained_words(ours) == {}
    (ours / "lexicon.txt").write_text("ten T IH N\n\nten T EH N\nfive F AY V\n")
    assert trained_words(ours) == {"ten": (("T", "IH", "N"), ("T", "EH", "N")), "five": (("F", "AY", "V"),)}
    (ours / "lexicon.txt").write_bytes(b"\xff")
    with pytest.raises(EngineError, match=r"lexicon\.txt: cannot be read"):
        trained_words(ours)


def test_every_word_of_the_shipped_definitions_can_be_pronounced(grammars: Mapping[str, Grammar]) -> None:
    words = {word for grammar in grammars.values() for word in grammar.words}
    assert lexicon(words, load("three-lumen").procedure.pronunciations, {}).keys() == words


def test_a_word_nobody_can_pronounce_is_named_with_the_remedy(ours: Path, cache: Path) -> None:
    odd = Grammar(ENTRIES, Acceptor(({"zorbly": 1}, {}), frozenset((1,))), None, ())
    with pytest.raises(EngineError, match="cannot pronounce: zorbly") as caught:
        strict_models(ours, {ENTRIES: odd}, {}, cache)
    assert "[pronunciations]" in caught.value.remedy
    with pytest.raises(EngineError, match="no sound OY"):
        strict_models(ours, {ENTRIES: odd}, {"zorbly": ("OY K",)}, cache)
    assert strict_models(ours, {ENTRIES: odd}, {"zorbly": ("S K",)}, cache)


def test_the_dictionary_is_there() -> None:
    assert dictionary().is_file()


# ---- where it is kept ----------------------------------------------------------------------------------------------


def test_what_was_made_is_kept(ours: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = strict_models(ours, GRAMMARS, {}, cache)
    monkeypatch.setattr("voice.engines.vosk_strict.const_bytes", None)  # would be needed to make it again
    assert strict_models(ours, GRAMMARS, {}, cache) == first


def test_anything_that_changes_the_files_makes_others(ours: Path, cache: Path) -> None:
    others = [
        strict_models(ours, GRAMMARS, {}, cache),
        strict_models(ours, {ENTRIES: GRAMMARS[ENTRIES]}, {}, cache),
        strict_models(ours, {**GRAMMARS, ENTRIES: Grammar(ENTRIES, ANOTHER, None, ())}, {}, cache),
        strict_models(ours, GRAMMARS, {}, cache, replace(DEFAULTS, stay=0.6)),
    ]
    (ours / "lexicon.txt").write_text("ten T IH N\n")
    others.append(strict_models(ours, GRAMMARS, {}, cache))
    (ours / "conf" / "model.conf").write_text("--beam=14\n")
    others.append(strict_models(ours, GRAMMARS, {}, cache))
    with (ours / "am" / "final.mdl").open("ab") as file:
        file.write(b"another net")
    others.append(strict_models(ours, GRAMMARS, {}, cache))
    assert len({str(made[ENTRIES]) for made in others}) == len(others)


def test_the_same_input_gives_the_same_bytes(ours: Path, tmp_path: Path) -> None:
    one, two = (strict_models(ours, GRAMMARS, {}, tmp_path / place)[BREATH] for place in ("one", "two"))
    assert files(one) == files(two)
    assert one.parent.name == two.parent.name


def test_what_a_cleaning_program_took_is_made_again(ours: Path, cache: Path) -> None:
    made = strict_models(ours, GRAMMARS, {}, cache)
    for folder in (made[ENTRIES], made[FREE]):
        whole = files(folder)
        for missing in ("graph/Gr.fst", "graph/HCLr.fst", "am/final.mdl", "conf/model.conf"):
            (folder / missing).unlink()
            assert strict_models(ours, GRAMMARS, {}, cache) == made
            assert files(folder) == whole
    assert [place.name for place in cache_dir(cache).iterdir()] == [folder.parent.name]


def test_a_file_that_cannot_be_linked_is_copied(ours: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "link", refused)
    folder = strict_models(ours, GRAMMARS, {}, cache / "one")[ENTRIES]
    assert (folder / "am" / "final.mdl").is_symlink()
    monkeypatch.setattr(os, "symlink", refused)
    folder = strict_models(ours, GRAMMARS, {}, cache / "two")[ENTRIES]
    assert not (folder / "am" / "final.mdl").samefile(ours / "am" / "final.mdl")
    assert (folder / "am" / "final.mdl").read_bytes() == (ours / "am" / "final.mdl").read_bytes()


def filled(folder: Path) -> None:
    (folder / "file").write_text("content")


def is_filled(folder: Path) -> bool:
    return (folder / "file").is_file()


def test_the_environment_names_the_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path / "named"))
    assert kept_folder("key", filled, is_filled) == tmp_path / "named" / "strict" / "key"


def test_programs_that_start_at_once_all_work(cache: Path) -> None:
    together = threading.Barrier(6)
    found: list[Path] = []

    def start() -> None:
        together.wait()
        found.append(kept_folder("key", slowly, is_filled, cache))

    def slowly(folder: Path) -> None:
        time.sleep(0.05)
        filled(folder)

    programs = [threading.Thread(target=start) for _ in range(6)]
    for program in programs:
        program.start()
    for program in programs:
        program.join()
    assert found == [cache_dir(cache) / "key"] * 6
    assert [place.name for place in cache_dir(cache).iterdir()] == ["key"]


def test_the_least_recently_used_are_deleted(cache: Path) -> None:
    for number in range(KEPT):
        os.utime(kept_folder(f"key-{number}", filled, is_filled, cache), (number, number))
    kept_folder("key-0", filled, is_filled, cache)
    kept_folder("one more", filled, is_filled, cache)
    left = {place.name for place in cache_dir(cache).iterdir()}
    assert left == {"one more", *(f"key-{number}" for number in range(KEPT) if number != 1)}


def test_what_a_killed_program_left_behind_is_deleted_in_time(cache: Path) -> None:
    directory = cache_dir(cache)
    kept_folder("key", filled, is_filled, cache)
    old, new = directory / ".making-old", directory / ".making-new"
    for draft in (old, new):
        draft.mkdir()
    os.utime(old, (0, 0))
    kept_folder("key", filled, is_filled, cache)
    assert {place.name for place in directory.iterdir()} == {"key", new.name}


def test_without_a_place_to_keep_it_is_made_for_this_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    (tmp_path / "file").write_text("no folder can be made here")
    folder = kept_folder("key", filled, is_filled, tmp_path / "file")
    assert is_filled(folder)
    assert folder.parent == tmp_path
    forget_those_of(os.getpid() + 1)
    assert is_filled(folder)
    forget_those_of(os.getpid())
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == []


def test_a_disk_that_fills_up_leaves_nothing_behind(
    cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(folder: Path) -> None:
        filled(folder)
        if cache in folder.parents:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    folder = kept_folder("key", full, is_filled, cache)
    assert cache not in folder.parents
    assert list(cache_dir(cache).iterdir()) == []
    shutil.rmtree(folder)


def test_no_place_anywhere_is_reported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with pytest.raises(EngineError, match="no room for the strict models") as caught:
        kept_folder("key", full, is_filled, tmp_path)
    assert CACHE_VARIABLE in caught.value.remedy
