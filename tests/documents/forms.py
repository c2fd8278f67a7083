"""Tables of the keys that a file may hold, from the pydantic forms that check it.

Takes: forms.  Gives: Markdown tables: key, whether it must be given or its default, what it means.
"""

from __future__ import annotations

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from tests.documents.markdown import code, table

HEAD = ("key", "default", "meaning")


def keys_of(form: type[BaseModel]) -> str:
    """Write the table of one form's keys.

    Raises:
        ValueError: a key has no description.
    """
    return table(
        HEAD, [_row(form, name, field) for name, field in form.model_fields.items() if not field.exclude]
    )


def titled_keys(forms: dict[str, type[BaseModel]]) -> str:
    """Write one table under a line of introduction for each form.

    Args:
        forms: what the form describes, and the form.
    """
    return "\n".join(f"**{title}**\n\n{keys_of(form)}" for title, form in forms.items())


def _row(form: type[BaseModel], name: str, field: FieldInfo) -> tuple[str, str, str]:
    if not field.description:
        raise ValueError(f"{form.__name__}.{name} has no description")
    return code(field.alias or name), _default(field), field.description


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "**must be given**"
    value = field.get_default(call_default_factory=True)
    if value in (None, "", [], {}, ()):
        return "none"
    return code(value if not isinstance(value, bool) else str(value).lower())
