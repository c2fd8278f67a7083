"""Takes pictures of the page: `python -m tests.browser FOLDER` or `python -m tests.browser --readme`.

Takes: a folder, for a picture of every view; or `--readme`, for the picture that the README shows.  Gives: PNG files; for the README also
the words of the page.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.browser.screenshots import README_PICTURE, save_readme_picture, save_screenshots

USAGE = "python -m tests.browser FOLDER | --readme"


def main(arguments: list[str]) -> str:
    """Take the pictures; return a line that says where they are."""
    match arguments:
        case ["--readme"]:
            save_readme_picture(README_PICTURE)
            return str(README_PICTURE)
        case [folder] if not folder.startswith("-"):
            return f"{save_screenshots(Path(folder))} pictures in {folder}"
        case _:
            sys.exit(USAGE)


if __name__ == "__main__":
    print(main(sys.argv[1:]))  # noqa: T201 - the output of the command
