"""What `.ci/release` needs to know, read from pyproject.toml; only the standard library is used.

`python3 tests/release.py lowest` prints the lowest version of each package that is allowed,
`tools` what the sample of tests needs besides, `version` the version.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

_FILE = Path(__file__).resolve().parents[1] / "pyproject.toml"
#: Of the tools for development, those that no test imports.
_UNTESTED = {"mypy", "ruff", "scipy-stubs"}


def project() -> dict[str, object]:
    """The table `[project]`."""
    table: dict[str, object] = tomllib.loads(_FILE.read_text("utf-8"))["project"]
    return table


def lowest(dependencies: list[str]) -> list[str]:
    """`name==version` for each `name>=version`. ValueError for a bound of another kind."""
    found = []
    for need in dependencies:
        bound = re.fullmatch(r"([\w.-]+)>=([\w.]+)", need)
        if bound is None:
            raise ValueError(f"{need!r} has no plain lower bound")
        found.append(f"{bound[1]}=={bound[2]}")
    return found


def tools(development: list[str]) -> list[str]:
    """The tools that the tests need."""
    return [need for need in development if re.split(r"[^\w-]", need)[0] not in _UNTESTED]


if __name__ == "__main__":
    about = project()
    match sys.argv[1]:
        case "lowest":
            print("\n".join(lowest(about["dependencies"])))  # type: ignore[arg-type]
        case "tools":
            print("\n".join(tools(about["optional-dependencies"]["dev"])))  # type: ignore[index]
        case "version":
            print(about["version"])
