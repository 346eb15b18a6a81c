"""Outside programs that tests use, and where Debian keeps them.

The only list of them: tests ask `need` for a program, and `.ci/run` runs this file to
learn which packages are still to be installed. Nothing but the standard library is
imported at the top, since it runs before anything is installed.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

# Program (or file, when it starts with /) -> Debian package.
PROGRAMS = {
    "chromium": "chromium",
    "git": "git",
    "inkscape": "inkscape",
    "ogr2ogr": "gdal-bin",
    "pdfunite": "poppler-utils",
    "pdftoppm": "poppler-utils",
    "pdftotext": "poppler-utils",
    "pdfinfo": "poppler-utils",
    "pdffonts": "poppler-utils",
    "pdfimages": "poppler-utils",
    "rsvg-convert": "librsvg2-bin",
    "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf": "fonts-dejavu-core",
}


def find(program: str) -> str | None:
    """The path of `program`, or None. KeyError when it is not in the list."""
    if program not in PROGRAMS:
        raise KeyError(program)
    if program.startswith("/"):
        return program if Path(program).exists() else None
    return shutil.which(program)


def need(program: str) -> str:
    """The path of `program`; without it the test is skipped, and fails when CI is set."""
    import pytest

    path = find(program)
    if path is None:
        reason = f"{program} is not installed (Debian package {PROGRAMS[program]})"
        if os.environ.get("CI", "").lower() not in ("", "0", "false"):
            pytest.fail(reason)
        pytest.skip(reason)
    return path


def missing_packages() -> list[str]:
    """The packages whose programs are not there, sorted."""
    return sorted({package for program, package in PROGRAMS.items() if find(program) is None})


if __name__ == "__main__":
    print(" ".join(missing_packages()))
