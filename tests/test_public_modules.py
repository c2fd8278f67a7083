"""The public modules of `rules` are the same in the import contract, in `rules/README.md` and in the packages' docstrings."""

from __future__ import annotations

import importlib
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CONTRACT = "The public modules of rules: bridge and adapters use no other"
PACKAGES = ("arithmetic", "judge", "language", "packs", "signals")


def allowed_modules() -> set[str]:
    """Read the modules that the contract allows."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    (contract,) = (one for one in contracts if one["name"] == CONTRACT)
    return {line.partition(" -> ")[2] for line in contract["ignore_imports"]}


def listed_modules() -> set[str]:
    """Read the modules that the table of the README lists."""
    rows = re.findall(
        r"^\| `(rules[.\w]*)` \| (.*) \|$", (ROOT / "rules" / "README.md").read_text(), re.MULTILINE
    )
    assert len(rows) == len(PACKAGES) + 2
    found = {"rules.source"}
    for package, modules in rows:
        if not modules.startswith(("none", "the package")):
            found |= {f"{package}.{name}" for name in re.findall(r"`(\w+)`", modules)}
    return found


def test_the_document_lists_what_the_contract_allows() -> None:
    """A module that is made public is listed for contributors, and the other way round."""
    assert listed_modules() == allowed_modules()


@pytest.mark.parametrize("package", PACKAGES)
def test_the_docstring_of_a_package_names_its_public_modules(package: str) -> None:
    """Whoever opens the package reads which of its modules may be used outside."""
    text = (importlib.import_module(f"rules.{package}").__doc__ or "").partition("Public")[2]
    named = set(re.findall(r"`(\w+)`", text.partition(";")[0])) - {"rules"}
    allowed = {name.rpartition(".")[2] for name in allowed_modules() if name.startswith(f"rules.{package}.")}
    assert named == allowed
