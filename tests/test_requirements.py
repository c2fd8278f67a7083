"""Tests of tests.requirements and .ci: what is missing is named with the line that installs it."""

from __future__ import annotations

import importlib.metadata
import re
import runpy
import subprocess
import sys
import venv
from pathlib import Path

import pytest

from bridge.debrief.report.document import PANGO_HINT
from bridge.outputs.voice.engines import ESPEAK_HINT
from tests import requirements

INSTALLED_BY_CI = (requirements.TOP / ".ci" / "debian").read_text(encoding="utf-8")
TEXTS = (
    requirements.CHROMIUM,
    requirements.POSTGRESQL,
    requirements.PDFTOTEXT,
    ESPEAK_HINT,
    PANGO_HINT,
)


@pytest.mark.parametrize("text", TEXTS)
def test_each_text_names_packages_that_ci_installs(text: str) -> None:
    """The line that a contributor reads installs the same packages as `.ci/debian`."""
    packages = text.partition("apt-get install ")[2].split()
    assert packages
    assert [name for name in packages if not re.search(rf"\b{re.escape(name)}\b", INSTALLED_BY_CI)] == []


@pytest.mark.parametrize(
    ("value", "outcome"), [("", "Skipped"), ("false", "Skipped"), ("true", "Failed"), ("1", "Failed")]
)
def test_what_is_missing_skips_and_fails_in_ci(
    value: str, outcome: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without `CI` a test is skipped with the text; with it the test fails with the text."""
    monkeypatch.setenv("CI", value)
    with pytest.raises(BaseException, match="apt-get install chromium") as caught:
        requirements.skip_or_fail(requirements.CHROMIUM)
    assert type(caught.value).__name__ == outcome


def test_missing_libraries_end_pytest_with_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The line names the libraries and the command that sets up, instead of a traceback."""
    requirements.exit_without_libraries()
    real = importlib.metadata.version
    monkeypatch.setattr(
        requirements, "version", lambda name: real("no-such" if name in ("hypothesis", "pydantic") else name)
    )
    with pytest.raises(SystemExit) as caught:
        requirements.exit_without_libraries()
    assert str(caught.value) == (
        "the tests need libraries that are not installed: pydantic, hypothesis\n"
        "  set up with: python3 .ci/fresh tools; then use .venv/bin/python -m pytest"
    )


def test_a_failed_environment_is_removed_and_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without python3-venv, `.ci/fresh` names it, and leaves no environment without pip behind."""
    home = tmp_path / "venv"

    def half_made(folder: Path, **_: object) -> None:
        (folder / "bin").mkdir(parents=True)
        (folder / "bin" / "python").touch()
        raise subprocess.CalledProcessError(1, "ensurepip")

    monkeypatch.setenv("HOLDSHORT_VENV", str(home))
    monkeypatch.setattr(venv, "create", half_made)
    monkeypatch.setattr(sys, "argv", ["fresh", "tools"])
    with pytest.raises(SystemExit, match="apt-get install python3-venv"):
        runpy.run_path(str(requirements.TOP / ".ci" / "fresh"), run_name="__main__")
    assert not home.exists()
