"""A frame that names what is not there is a problem of the definition, with the path to it, and never a crash."""

from __future__ import annotations

import pytest

from log.basics.errors import InputError
from log.definition.frames import Frame
from log.definition.load import shipped
from log.definition.procedure import Procedure
from log.rules.definitions import read_procedure
from voice.meaning.frames.lexicon import lexicon
from voice.meaning.frames.problems import frame_problems
from voice.phrases.phrases import compile_phrases


@pytest.mark.parametrize("name", shipped())
def test_every_frame_of_a_shipped_definition_names_what_is_there(name: str) -> None:
    assert list(frame_problems(read_procedure(name))) == []


def with_frame(frame: Frame) -> Procedure:
    procedure = read_procedure("three-lumen")
    assert procedure.speech is not None
    return procedure.model_copy(update={"speech": procedure.speech.model_copy(update={"frame": (frame,)})})


@pytest.mark.parametrize(
    ("frame", "path", "text"),
    [
        (Frame(id="f", kind="volum", needs=("put",)), "", 'no kind of entry is called "volum"'),
        (Frame(id="f", kind="volume_in", needs=("putt|more",)), "", 'nothing says "putt"'),
        (Frame(id="f", kind="volume_in", needs=("put",), against=("mor",)), "", 'nothing says "mor"'),
        (Frame(id="f", kind="volume_in", needs=("put",), numbers=("volum",)), "", 'no number slot is called "volum"'),
        (Frame(id="f", kind="volume_in", needs=("put",), also="g"), "", 'no frame is called "g"'),
        (Frame(id="f", kind="volume_in", needs=("put",), site="<put>"), ".site", 'no group of words is called "put"'),
    ],
)
def test_a_frame_that_names_what_is_not_there_is_a_problem(frame: Frame, path: str, text: str) -> None:
    procedure = with_frame(frame)
    assert list(frame_problems(procedure)) == [(f"speech.frame.f{path}", text)]
    with pytest.raises(InputError, match=r"speech\.frame\.f"):
        lexicon(compile_phrases(procedure))
