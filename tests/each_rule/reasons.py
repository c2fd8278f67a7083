"""Rules whose slip is not found from their condition: where it is flown instead, or why there is none.

Takes: `reasons.yaml`.  Gives: `Reason`s by rule.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, TypeAdapter, model_validator

from rules.source import read_source

TESTS = Path(__file__).parent.parent


class Reason(BaseModel):
    """A file of the tests with a slip that the rule finds, or why there is no slip."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    flown: str = ""
    reason: str = ""

    @model_validator(mode="after")
    def _has_one(self) -> Reason:
        if bool(self.flown) is bool(self.reason):
            raise ValueError("expected either flown or reason")
        return self

    def names(self, rule: str) -> bool:
        """True if the file names the rule, so that its slip is there; a reason needs no file."""
        return not self.flown or rule.rpartition(".")[2] in (TESTS / self.flown).read_text("utf-8")

    @property
    def text(self) -> str:
        """Words for the table."""
        return f"flown in tests/{self.flown}" if self.flown else self.reason


@cache
def reasons() -> dict[str, Reason]:
    """Read the reasons by rule, without the match of a `*`."""
    data = read_source(Path(__file__).with_name("reasons.yaml")).data
    return TypeAdapter(dict[str, Reason]).validate_python(data)
