"""`python -m tests.documents`: writes the generated parts of all documents anew.

Takes: nothing.  Gives: the documents' files, changed where the code has changed; the names of those files as lines.
"""

from __future__ import annotations

from tests.documents.generated import PARTS, TOP
from tests.documents.markdown import fill, names_of_parts


def main() -> None:
    """Write each document whose generated parts differ from the code."""
    for path in sorted(TOP.glob("**/*.md")):
        text = path.read_text("utf-8")
        if names_of_parts(text) and (new := fill(text, PARTS)) != text:
            path.write_text(new, "utf-8")
            print(path.relative_to(TOP))  # noqa: T201 - the command's output


if __name__ == "__main__":
    main()
