"""The demo: the whole job on an invented garment."""

from __future__ import annotations

from pathlib import Path

from ..errors import UsageError
from ..shipped import shipped
from .commands import Told, run_job_file
from .progress import Progress, silent
from .write_out import write_out

NAME = "supper-top"
_FILES = (f"{NAME}.svg", f"{NAME}.toml")
#: A whole remake, for those who want to see more; it takes longer, and is not run here.
_REMAKE = "supper-frock"


def run_demo(folder: Path, *, progress: Progress = silent) -> Told:
    """Copy the demo's drawing and job into `folder` and run the job there.

    Raises UsageError where the folder holds a copy that was changed: it may be somebody's
    work, and is not overwritten.
    """
    copies = {name: shipped(f"examples/{NAME}/{name}").read_bytes() for name in _FILES}
    remake = f"{_REMAKE}.toml"
    copies[remake] = shipped(f"examples/{_REMAKE}/{remake}").read_bytes()
    for name, data in copies.items():
        path = folder / name
        if path.exists() and (not path.is_file() or path.read_bytes() != data):
            raise UsageError(
                f"{path} is there already and is not as the demo has it",
                cure=f"Run it with `sizewright run {folder / _FILES[1]}`, or give another folder.",
            )
    write_out(folder, copies)
    told = run_job_file(folder / _FILES[1], into=folder, progress=progress)
    after = (
        "",
        f"Open {folder / 'card.html'} in a browser first: pieces, seams, pages and what was found.",
        f"To change something, edit {folder / _FILES[1]}",
        f"or the drawing beside it, and run: sizewright run {folder / _FILES[1]}",
        f"A pattern made over: sizewright run {folder / remake} --into {folder / _REMAKE}",
    )
    return Told((*told.lines, *after), told.findings)
