"""The manual page and completion, as a reader and a shell take them."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from tests.tui.conftest import Run
from tui.cli import COMMANDS


def test_the_manual_page_names_every_command_and_man_has_nothing_to_say_against_it(run: Run) -> None:
    page = run("manual").done()
    assert [name for name in COMMANDS if f"\n.SS tamponade {name.replace('-', chr(92) + '-')}" not in page] == []
    assert "\n.TP\n.B \\-\\-deidentify\n" in page
    if (groff := shutil.which("groff")) is not None:
        done = subprocess.run([groff, "-man", "-ww", "-Tutf8"], input=page, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, "")
        assert "does not verify" in done.stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_is_what_the_shell_reads(run: Run, shell: str) -> None:
    script = run("manual", "--completion", shell).done()
    assert "_TAMPONADE_COMPLETE" in script
    if (program := shutil.which(shell)) is not None:
        subprocess.run([program, "-n"], input=script, text=True, check=True)
