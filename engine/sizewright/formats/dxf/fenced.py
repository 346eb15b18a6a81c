"""ezdxf without what it would take from this computer, or leave on it.

When it is imported it reads `ezdxf.ini` from the home folder and the current one, and keeps a
list of all fonts in the home folder. Nothing here needs either; a wrong file ended the run.
"""

from __future__ import annotations

import logging
import os
import sys
import tempfile
import warnings
from collections.abc import Iterator
from configparser import ConfigParser
from contextlib import contextmanager
from pathlib import Path
from threading import RLock
from typing import Any

#: A list of no fonts, so that none are looked for: no text is measured by them. With another
#: version than its own ezdxf reads every font of the computer instead.
_NO_FONTS = '{"version": 2, "font-faces": []}'
_lock = RLock()


def fence_ezdxf() -> None:
    """Import ezdxf, its settings and fonts left alone, its log messages off the terminal.

    Findings say what matters. Where it is imported already it stays as it is.
    """
    with _lock:
        if "ezdxf" not in sys.modules:
            with _alone():
                import ezdxf  # noqa: F401
    log = logging.getLogger("ezdxf")
    if not log.handlers:
        log.addHandler(logging.NullHandler())


@contextmanager
def _alone() -> Iterator[None]:
    def unread(*_: Any, **__: Any) -> list[str]:
        return []

    before, read = dict(os.environ), ConfigParser.read
    with tempfile.TemporaryDirectory(prefix="sizewright-") as folder:
        fonts = Path(folder, "ezdxf", "font_manager_cache.json")
        fonts.parent.mkdir()
        fonts.write_text(_NO_FONTS, "utf-8")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                os.environ.update(XDG_CACHE_HOME=folder, XDG_CONFIG_HOME=folder)
                for name in [n for n in before if n.startswith("EZDXF_")]:
                    del os.environ[name]
                ConfigParser.read = unread  # type: ignore[method-assign, assignment]
                yield
            finally:
                ConfigParser.read = read  # type: ignore[method-assign]
                os.environ.clear()
                os.environ.update(before)
