"""Writes the bill of materials of this environment (CycloneDX) and checks the licences in it.

`python -m tests.supply_chain [FILE]`; the file is `build/materials.cdx.json` where none is given.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from tests.supply_chain.licences import read_rules, refused, stated, unused

TOP = Path(__file__).resolve().parent.parent.parent


def main() -> int:
    """Write the document and print what it holds; give 1 where a licence is not allowed."""
    path = Path(sys.argv[1] if len(sys.argv) > 1 else TOP / "build" / "materials.cdx.json")
    components = write_materials(path)
    rules = read_rules()
    counts = Counter(text for part in components for text in stated(part, rules) or ["states none"])
    sys.stdout.write(f"{path.name}: {len(components)} packages\n")
    sys.stdout.writelines(f"  {count:3} {licence}\n" for licence, count in counts.most_common())
    problems = refused(components, rules)
    problems += [f"{name}: an exception that is not needed any more" for name in unused(components, rules)]
    sys.stdout.writelines(f"{problem}\n" for problem in problems)
    return 1 if problems else 0


def write_materials(path: Path) -> list[dict[str, Any]]:
    """Let the CycloneDX tool list what is installed here, and give its components."""
    path.parent.mkdir(parents=True, exist_ok=True)
    maker = Path(sys.executable).with_name("cyclonedx-py")
    options: list[str | Path] = ["--output-reproducible", "--validate", "--pyproject", TOP / "pyproject.toml"]
    subprocess.run([maker, "environment", *options, "--output-file", path, sys.executable], check=True)
    components: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["components"]
    return components


if __name__ == "__main__":
    sys.exit(main())
