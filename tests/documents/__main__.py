"""`python -m tests.documents` writes the generated parts of all documents.

Takes: nothing.  Gives: changed documents, and their names as lines.
"""

from __future__ import annotations

from tests.documents.generated import PARTS, TOP, documents
from tests.documents.markdown import fill


def main() -> None:
    """Write each document whose generated parts differ from the code."""
    for path in documents():
        text = path.read_text("utf-8")
        if (new := fill(text, PARTS)) != text:
            path.write_text(new, "utf-8")
            print(path.relative_to(TOP))  # noqa: T201 - the command's output


if __name__ == "__main__":
    main()
