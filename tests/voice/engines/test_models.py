"""Models on this machine: finding them, choosing one, and adding one from a folder or a zip file."""

from __future__ import annotations

import stat
import zipfile
from pathlib import Path

import pytest

from log.basics.errors import EngineError, InputError, StoreError
from voice.engines.models import (
    SHIPPED,
    InstalledModel,
    add,
    default_model,
    installed,
    is_model,
    models_dir,
    shipped_model,
    usable,
)
from voice.engines.vosk_model import ModelKind, kind_of, sounds_of, trained_words

PROTOTYPE = Path(__file__).parents[4] / "shared" / "vosk-recipe" / "model-prototype"

FILES = {"am/final.mdl": b"net", "conf/model.conf": b"--beam=13\n", "graph/HCLr.fst": b"fst", "graph/Gr.fst": b"g"}
STATIC_FILES = {"am/final.mdl": b"net", "conf/model.conf": b"", "graph/HCLG.fst": b"fst", "graph/HCLr.fst": b"fst"}
FLAT_FILES = {"final.mdl": b"net", "mfcc.conf": b"", "HCLr.fst": b"fst"}


def folder(place: Path, files: dict[str, bytes] = FILES) -> Path:
    """A model folder made of tiny files."""
    for name, content in files.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(content)
    return place


def archive(place: Path, files: dict[str, bytes] = FILES, top: str = "small-model/") -> Path:
    """A zip file of a model under one top folder."""
    with zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, content in files.items():
            zipped.writestr(top + name, content)
    return place


def everything_in(directory: Path) -> list[str]:
    """Hidden files too: what a failed attempt left behind."""
    return sorted(entry.name for entry in directory.iterdir()) if directory.exists() else []


@pytest.fixture
def directory(tmp_path: Path) -> Path:
    return tmp_path / "data" / "models"


@pytest.fixture(autouse=True)
def _no_choice_in_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TAMPONADE_MODELS", raising=False)
    monkeypatch.delenv("TAMPONADE_MODEL", raising=False)


@pytest.fixture(autouse=True)
def program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder as the program brings it, with no model of its own."""
    place = tmp_path / "program" / "models"
    place.mkdir(parents=True)
    monkeypatch.setattr(
        "voice.engines.models.importlib.resources.files", lambda package: tmp_path / "program" / package
    )
    return place


# Where models are, and which one is used


def test_an_override_comes_before_the_environment_and_that_before_the_users_data_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert models_dir().name == "models"
    assert "tamponade-log" in models_dir().parts
    monkeypatch.setenv("TAMPONADE_MODELS", str(tmp_path / "env"))
    assert models_dir() == tmp_path / "env"
    assert models_dir(tmp_path / "given") == tmp_path / "given"


def test_a_folder_that_does_not_exist_holds_no_models(directory: Path) -> None:
    assert installed(directory) == ()
    assert default_model(directory) is None


def test_only_complete_models_are_listed_and_their_grammar_is_known(directory: Path) -> None:
    folder(directory / "c-today")
    folder(directory / "b-static", STATIC_FILES)
    folder(directory / "a-flat", FLAT_FILES)
    folder(directory / ".adding-x" / "half")
    folder(directory / ".hidden")
    (directory / "empty").mkdir()
    (directory / "d.zip.part").write_bytes(b"")
    assert [(model.name, model.runtime_grammar) for model in installed(directory)] == [
        ("a-flat", True),
        ("b-static", False),
        ("c-today", True),
    ]


def test_the_default_is_the_first_model_that_takes_a_grammar(directory: Path) -> None:
    folder(directory / "a-static", STATIC_FILES)
    assert default_model(directory) is None
    folder(directory / "b")
    folder(directory / "c")
    assert default_model(directory) == InstalledModel("b", directory / "b", runtime_grammar=True)


def test_the_environment_may_name_the_model_and_a_missing_one_is_said(
    directory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder(directory / "a")
    folder(directory / "b")
    monkeypatch.setenv("TAMPONADE_MODEL", "b")
    chosen = default_model(directory)
    assert chosen is not None and chosen.name == "b"
    monkeypatch.setenv("TAMPONADE_MODEL", "z")
    with pytest.raises(EngineError, match=r"'z'.*there: a, b.*TAMPONADE_MODEL"):
        default_model(directory)


# The model that comes with the program


def test_a_program_without_a_model_of_its_own_says_so(program: Path, directory: Path) -> None:
    assert shipped_model() is None
    (program / SHIPPED).mkdir()
    assert shipped_model() is None
    assert usable(directory) == ()


def test_the_model_that_comes_with_the_program_is_used_before_those_that_were_added(
    program: Path, directory: Path
) -> None:
    ours = InstalledModel(SHIPPED, folder(program / SHIPPED), runtime_grammar=True)
    added = folder(directory / "a")
    assert shipped_model() == ours
    assert default_model(directory) == ours
    assert usable(directory) == (ours, InstalledModel("a", added, runtime_grammar=True))
    assert installed(directory) == usable(directory)[1:]


def test_the_environment_may_name_another_than_the_one_that_comes_with_the_program(
    program: Path, directory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder(program / SHIPPED)
    folder(directory / "a")
    for name in ("a", SHIPPED):
        monkeypatch.setenv("TAMPONADE_MODEL", name)
        chosen = default_model(directory)
        assert chosen is not None and chosen.name == name
    monkeypatch.setenv("TAMPONADE_MODEL", "z")
    with pytest.raises(EngineError, match=f"there: {SHIPPED}, a"):
        default_model(directory)


def test_the_model_of_this_tree_can_be_made_strict(room_model: Path) -> None:
    assert is_model(room_model)
    assert kind_of(room_model) is ModelKind.OURS
    assert sounds_of(room_model).phones and trained_words(room_model)


@pytest.mark.skipif(not PROTOTYPE.is_dir(), reason="the prototype model is not on this machine")
def test_a_real_model_folder_is_copied_whole_and_recognised(directory: Path) -> None:
    model = add(str(PROTOTYPE), directory=directory)
    assert model == InstalledModel("model-prototype", directory / "model-prototype", runtime_grammar=True)
    assert (model.path / "am" / "final.mdl").stat().st_size == (PROTOTYPE / "am" / "final.mdl").stat().st_size
    assert installed(directory) == (model,)


# Adding from a folder


def test_a_folder_is_copied_under_its_own_name(directory: Path, tmp_path: Path) -> None:
    source = folder(tmp_path / "my model")
    model = add(str(source), directory=directory)
    assert model == InstalledModel("my-model", directory / "my-model", runtime_grammar=True)
    assert (model.path / "graph" / "HCLr.fst").read_bytes() == b"fst"
    assert source.is_dir()


def test_a_read_only_folder_becomes_a_model_that_can_be_removed(directory: Path, tmp_path: Path) -> None:
    source = folder(tmp_path / "fixed")
    (source / "am").chmod(0o555)
    model = add(str(source), directory=directory)
    (source / "am").chmod(0o755)
    assert stat.S_IMODE((model.path / "am").stat().st_mode) & stat.S_IWUSR


def test_a_folder_that_is_no_model_is_refused(directory: Path, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    with pytest.raises(InputError, match="photos is not a model folder"):
        add(str(tmp_path / "photos"), directory=directory)
    assert everything_in(directory) == []


def test_a_folder_with_a_link_to_a_folder_is_refused_and_nothing_is_left(directory: Path, tmp_path: Path) -> None:
    source = folder(tmp_path / "linked")
    (source / "again").symlink_to(source, target_is_directory=True)
    with pytest.raises(InputError, match="is a link to a folder"):
        add(str(source), directory=directory)
    assert everything_in(directory) == []


@pytest.mark.parametrize("target", ["/etc/hostname", "../secret", "nowhere", "am/link"])
def test_a_link_out_of_the_folder_is_refused_and_nothing_is_left(directory: Path, tmp_path: Path, target: str) -> None:
    """Absolute, relative, dangling, and a link to itself."""
    source = folder(tmp_path / "linked")
    (tmp_path / "secret").write_bytes(b"not the model's")
    (source / "am" / "link").symlink_to(target if target != "am/link" else source / "am" / "link")
    with pytest.raises(InputError, match="is a link to no file of the model"):
        add(str(source), directory=directory)
    assert everything_in(directory) == []


def test_a_link_to_another_file_of_the_model_becomes_a_file(directory: Path, tmp_path: Path) -> None:
    source = folder(tmp_path / "linked")
    (source / "graph" / "again.fst").symlink_to("HCLr.fst")
    model = add(str(source), directory=directory)
    assert not (model.path / "graph" / "again.fst").is_symlink()
    assert (model.path / "graph" / "again.fst").read_bytes() == b"fst"


def test_a_model_that_would_be_copied_into_itself_is_refused(tmp_path: Path) -> None:
    source = folder(tmp_path / "outer")
    with pytest.raises(InputError, match="not a model folder"):
        add(str(source), directory=source / "models")


def test_a_sum_for_a_folder_is_refused(directory: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="has no SHA-256"):
        add(str(folder(tmp_path / "m")), sha256="a" * 64, directory=directory)


# Adding from a zip file


@pytest.mark.parametrize("top", ["small-model/", "", "deep/er/", "old\\style\\"])
def test_a_zip_file_gives_the_one_model_in_it_wherever_it_lies(directory: Path, tmp_path: Path, top: str) -> None:
    model = add(str(archive(tmp_path / "english.zip", top=top)), directory=directory)
    assert model == InstalledModel("english", directory / "english", runtime_grammar=True)
    assert (model.path / "conf" / "model.conf").read_bytes() == b"--beam=13\n"
    assert everything_in(directory) == ["english"]


def test_folder_entries_in_a_zip_file_are_harmless(directory: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "m.zip", "w") as zipped:
        for name in ("./", "m/", "m/am/"):
            zipped.writestr(name, b"")
        for name, content in FILES.items():
            zipped.writestr("m/" + name, content)
    assert add(str(tmp_path / "m.zip"), directory=directory).runtime_grammar


def test_the_sum_of_a_zip_file_is_checked_when_given(directory: Path, tmp_path: Path) -> None:
    source = archive(tmp_path / "m.zip")
    with pytest.raises(InputError, match=r"m\.zip: SHA-256 is [0-9a-f]{64}, not a{64} - "):
        add(str(source), sha256="A" * 64, directory=directory)
    assert source.exists()
    assert everything_in(directory) == []


def test_a_sum_that_is_no_sum_is_refused(directory: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not a SHA-256"):
        add(str(archive(tmp_path / "m.zip")), sha256="abc", directory=directory)


@pytest.mark.parametrize("files", [{"readme.txt": b"hello"}, {}, {"am/final.mdl": b"net"}])
def test_a_zip_file_without_a_model_is_refused(directory: Path, tmp_path: Path, files: dict[str, bytes]) -> None:
    with pytest.raises(InputError, match="holds no models"):
        add(str(archive(tmp_path / "m.zip", files)), directory=directory)
    assert everything_in(directory) == []


def test_a_zip_file_with_two_models_is_refused(directory: Path, tmp_path: Path) -> None:
    two = {f"{name}/{file}": content for name in "ab" for file, content in FILES.items()}
    with pytest.raises(InputError, match="holds 2 models"):
        add(str(archive(tmp_path / "m.zip", two)), directory=directory)


# Names


def test_an_existing_name_is_refused_with_both_ways_out_and_left_alone(directory: Path, tmp_path: Path) -> None:
    source = archive(tmp_path / "m.zip")
    (directory / "m").mkdir(parents=True)
    with pytest.raises(InputError, match=r"m is already there - remove it first, or give another --name"):
        add(str(source), directory=directory)
    assert add(str(source), directory=directory, name="m2").name == "m2"
    assert list((directory / "m").iterdir()) == []


@pytest.mark.parametrize("name", ["", "..", "../m", "/m", "a/b", ".m", "m.", "m\n", "-m", "a b", "a" * 101])
def test_a_name_that_is_no_plain_folder_name_is_refused(directory: Path, tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="cannot be a model's name"):
        add(str(archive(tmp_path / "m.zip")), directory=directory, name=name)
    assert everything_in(directory) == []


@pytest.mark.parametrize("source", ["smal", "https://models.example/small.zip", "~nobody-here/model", "m" * 5000])
def test_a_source_that_is_not_on_this_machine_is_refused(directory: Path, source: str) -> None:
    with pytest.raises(
        InputError, match="is neither a folder nor a zip file - give the path of one: nothing is downloaded"
    ):
        add(source, directory=directory)


# Half a model is no model


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError("disk full")])
def test_a_copy_that_is_cut_short_leaves_nothing(
    directory: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException | type[BaseException]
) -> None:
    copied = []

    def failing_copy(source: Path, target: Path) -> None:
        assert installed(directory) == ()
        copied.append(target.write_bytes(source.read_bytes()))
        if len(copied) == 3:
            raise fault

    monkeypatch.setattr("voice.engines.models.shutil.copyfile", failing_copy)
    with pytest.raises((KeyboardInterrupt, StoreError)):
        add(str(folder(tmp_path / "m")), directory=directory)
    assert installed(directory) == ()
    assert everything_in(directory) == []


def test_unpacking_that_is_cut_short_leaves_nothing(
    directory: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing_copy(*_: object) -> None:
        assert installed(directory) == ()
        raise KeyboardInterrupt

    monkeypatch.setattr("voice.engines.unpack.shutil.copyfileobj", failing_copy)
    with pytest.raises(KeyboardInterrupt):
        add(str(archive(tmp_path / "m.zip")), directory=directory)
    assert everything_in(directory) == []


def test_a_process_killed_while_copying_leaves_no_model_in_sight(directory: Path) -> None:
    """What a kill leaves is a hidden staging folder; it is neither listed nor in the way of the next attempt."""
    folder(directory / ".adding-abc" / "m")
    assert installed(directory) == ()
    assert add(str(directory / ".adding-abc" / "m"), directory=directory).name == "m"


def test_a_models_folder_that_cannot_be_made_is_a_store_error(tmp_path: Path) -> None:
    (tmp_path / "models").write_bytes(b"a file, not a folder")
    with pytest.raises(StoreError, match="cannot be written"):
        add(str(folder(tmp_path / "m")), directory=tmp_path / "models" / "inner")
