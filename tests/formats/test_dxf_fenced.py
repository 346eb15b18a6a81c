"""ezdxf takes no settings from the computer, and leaves nothing on it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sizewright.formats import read_svg, write_dxf
from sizewright.shipped import shipped

pytestmark = pytest.mark.release

CODE = """
import json, os, sys
from configparser import ConfigParser
from sizewright.formats import read_dxf, read_svg, write_dxf
from sizewright.shipped import shipped
before, read = dict(os.environ), ConfigParser.read
pattern = read_svg(shipped("examples/patch-pocket.svg")).pattern
data = write_dxf(pattern).data
assert read_dxf(data).pattern.names == pattern.names
assert dict(os.environ) == before and ConfigParser.read is read
from ezdxf.fonts.fonts import font_manager
assert json.loads(font_manager.dumps())["font-faces"] == []
sys.stdout.buffer.write(data)
"""


def test_settings_and_home_are_left_alone(tmp_path: Path) -> None:
    made = []
    for name in ("plain", "broken"):
        here, home = tmp_path / name, tmp_path / f"{name}-home"
        for folder in (here, home, home / ".config" / "ezdxf"):
            folder.mkdir(parents=True, exist_ok=True)
        if name == "broken":
            for ini in (here, home / ".config" / "ezdxf"):
                (ini / "ezdxf.ini").write_bytes(b"\xff\xfe broken [[[\n=")
        kept = set(tmp_path.rglob("*"))
        environment = {k: v for k, v in os.environ.items() if not k.startswith("XDG_")}
        environment |= {"HOME": str(home), "EZDXF_CONFIG_FILE": "ezdxf.ini"}
        done = subprocess.run(
            [sys.executable, "-W", "error::UserWarning", "-c", CODE],
            cwd=here,
            env=environment,
            capture_output=True,
        )
        assert done.returncode == 0, done.stderr.decode()
        assert done.stderr == b""
        assert set(tmp_path.rglob("*")) == kept
        made.append(done.stdout)
    assert made[0] == made[1]


@pytest.mark.parametrize("profile", ["curves", "cutter"])
def test_numbers_have_no_more_decimals_than_all_processors_agree_on(profile: str) -> None:
    pattern = read_svg(shipped("examples/supper-top/supper-top.svg")).pattern
    lines = write_dxf(pattern, profile).data.decode().splitlines()
    numbers = [v for c, v in zip(lines[::2], lines[1::2], strict=True) if 10 <= int(c) <= 59]
    assert len(numbers) > 1000
    assert max(len(v.partition(".")[2]) for v in numbers) <= 7
    assert not any("e-" in v for v in numbers)
