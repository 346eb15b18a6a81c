"""The commands that README.md gives, so that they and what CI runs cannot drift apart.

A command is the one line of the fenced block that follows `<!-- command: NAME -->`.
`python3 tests/readme.py NAME` prints it; only the standard library is used.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

README = Path(__file__).resolve().parents[1] / "README.md"
_BLOCK = re.compile(r"^<!-- command: (\w+) -->\n```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def commands(text: str) -> dict[str, str]:
    """Each marked command by name. ValueError for a name used twice or not one line."""
    found: dict[str, str] = {}
    for name, body in _BLOCK.findall(text):
        lines = body.splitlines()
        if len(lines) != 1 or name in found:
            raise ValueError(f"README command {name!r} must stand once, in one line")
        found[name] = lines[0]
    return found


if __name__ == "__main__":
    found = commands(README.read_text("utf-8"))
    if sys.argv[1] not in found:
        sys.exit(f"README.md marks no command {sys.argv[1]!r}, only {sorted(found)}")
    print(found[sys.argv[1]])
