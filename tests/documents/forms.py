"""Writes tables of the keys of a file, from the pydantic forms that check it.

Takes: forms.  Gives: Markdown tables with key, default and meaning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from tests.documents.markdown import code, table

HEAD = ("key", "default", "meaning")

DOCUMENTED: set[type[BaseModel]] = set()
"""Every form that a table was written of."""


def keys_of(form: type[BaseModel], bases: Iterable[type[BaseModel]] = ()) -> str:
    """Write the table of one form's keys.

    Args:
        form: the form.
        bases: base forms whose keys are left out, because they have a table of their own.

    Raises:
        ValueError: a key has no description.
    """
    DOCUMENTED.add(form)
    inherited = {name for base in bases for name in base.model_fields}
    return table(
        HEAD,
        [
            _row(form, name, field)
            for name, field in form.model_fields.items()
            if not field.exclude and name not in inherited
        ],
    )


def titled_keys(forms: Mapping[str, type[BaseModel]]) -> str:
    """Write one titled table for each form; a key of a base form that is listed too appears there only.

    Args:
        forms: each form by the title of its table.
    """
    return "\n".join(
        f"**{title}**\n\n{keys_of(form, _bases(form, forms.values()))}" for title, form in forms.items()
    )


def _bases(form: type[BaseModel], forms: Iterable[type[BaseModel]]) -> list[type[BaseModel]]:
    return [other for other in forms if other is not form and issubclass(form, other)]


def _row(form: type[BaseModel], name: str, field: FieldInfo) -> tuple[str, str, str]:
    if not field.description:
        raise ValueError(f"{form.__name__}.{name} has no description")
    return code(field.alias or name), _default(field), field.description


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "**required**"
    value = field.get_default(call_default_factory=True)
    if value in (None, "", [], {}, ()):
        return "none"
    return code(value if not isinstance(value, bool) else str(value).lower())
