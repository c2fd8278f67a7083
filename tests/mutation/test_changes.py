"""Changes of a source text: what counts as one, and which are drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mutation.__main__ import accepted, files_of
from tests.mutation.changes import TOP, program_of, sample
from tests.mutation.trials import Copy, Noticed

NUMBERS = TOP / "rules" / "arithmetic" / "atmosphere.py"


def test_a_number_and_an_operator_can_be_changed() -> None:
    """A module of arithmetic has lines whose numbers and operators can be changed, and each change differs in one line."""
    found = sample([NUMBERS], 12, seed=1)
    assert len({one.key for one in found}) == 12
    assert all(one.diff.count("\n-") == 0 and one.diff.startswith("-") for one in found)
    assert len({one.operator for one in found}) >= 4


def test_the_same_seed_draws_the_same_changes() -> None:
    """A run can be repeated."""
    assert sample([NUMBERS], 5, seed=3) == sample([NUMBERS], 5, seed=3)
    assert sample([NUMBERS], 5, seed=3) != sample([NUMBERS], 5, seed=4)


@pytest.mark.parametrize(
    ("before", "after", "same"),
    [
        ("def f(a: int | None) -> int | str: ...", "def f(a: int & None) -> int & str: ...", True),
        (
            "@dataclass\nclass A(B):\n    a: int | None = 1",
            "@dataclass\nclass A(B):\n    a: int & None = 1",
            True,
        ),
        ("class A(Form):\n    a: int | None = 1", "class A(Form):\n    a: int & None = 1", False),
        ("class A(Form):\n    a: int = 1", "class A(Form):\n    a: int = 2", False),
        ("a: int | str = 1", "a: int & str = 1", True),
        ("a = 1", "a = 2", False),
    ],
)
def test_an_annotation_is_read_only_in_a_form(before: str, after: str, *, same: bool) -> None:
    """`int | None` says nothing to the running program, but for the fields of a form."""
    assert (program_of(before) == program_of(after)) is same


def test_a_change_is_noticed_by_the_tests_of_its_package(tmp_path: Path) -> None:
    """A number of the standard atmosphere is noticed by the tests of its package, and the file is as before afterwards."""
    change = next(one for one in sample([NUMBERS], 12, seed=1) if "Number" in one.operator)
    copy = Copy(tmp_path)
    assert copy.try_change(change).noticed is Noticed.BY_ITS_PACKAGE
    assert (tmp_path / change.file).read_bytes() == (TOP / change.file).read_bytes()


def test_a_missing_file_is_told() -> None:
    """A word that is no file of the repository says so."""
    with pytest.raises(SystemExit, match=r"nothing\.py: no such file or folder"):
        files_of(["rules/nothing.py"])


def test_what_is_accepted_is_in_a_file_that_exists() -> None:
    """Each accepted change names a file and a reason."""
    assert all((TOP / key.partition(":")[0]).is_file() and reason for key, reason in accepted().items())
