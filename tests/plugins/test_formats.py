"""The formats, truing and laying over as plugins, with the settings that a job gives them."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from ezdxf import bbox

from sizewright.errors import InputError, UsageError
from sizewright.formats import read_dxf, read_rule_file
from sizewright.grading import read_rules
from sizewright.jobs.commands import run_job_file
from sizewright.jobs.files import open_pattern
from sizewright.shipped import shipped
from tests.operations import write
from tests.pictures.patterns import twelve

TOP = "shipped:examples/supper-top/supper-top.svg"
STEPS = "grade_tables/supper-top-steps.csv"


def written(name: str, **given: object) -> bytes:
    return write(twelve(), name, **given).data


def test_the_unit_of_a_drawing_is_a_setting(tmp_path: Path) -> None:
    for name in ("curves", "cutter"):
        mm, inches = (tmp_path / f"{unit}.dxf" for unit in ("mm", "in"))
        mm.write_bytes(written(name))
        inches.write_bytes(written(name, unit="in"))
        boxes = []
        for path in (mm, inches):
            # ezdxf's own box of all that is drawn, not our reader's.
            boxes.append(bbox.extents(ezdxf.readfile(path).modelspace()).size)
        assert tuple(boxes[0]) == pytest.approx(tuple(boxes[1] * 25.4), rel=1e-3)
        assert read_dxf(mm).pattern.names == read_dxf(inches).pattern.names


def test_finer_chords_are_more_chords() -> None:
    coarse, fine = (len(written("cutter", chord=c)) for c in ("0.5 mm", "0.01 mm"))
    assert fine > coarse
    with pytest.raises(UsageError, match=r"at least 0\.001 mm"):
        written("cutter", chord="0 mm")


def job(folder: Path, text: str) -> Path:
    path = folder / "job.toml"
    path.write_text(f'source = "{TOP}"\n{text}')
    return path


def test_a_job_may_write_rules_that_it_did_not_grade_by(tmp_path: Path) -> None:
    output = '[[outputs]]\nfile = "top.dxf"\nwrite = "interchange"\n'
    (tmp_path / "rules.csv").write_bytes(shipped(STEPS).read_bytes())
    run_job_file(job(tmp_path, output + 'rules = "rules.csv"\nname = "supper"\n'))
    table = read_rule_file(tmp_path / "top.rul").table
    assert table.name == "SUPPER"
    assert table.sizes == read_rules(shipped(STEPS)).sizes
    (tmp_path / "top.rul").unlink()
    run_job_file(job(tmp_path, output))
    assert not (tmp_path / "top.rul").exists()
    with pytest.raises(InputError, match=r'line \d: there is no file "none\.csv"'):
        run_job_file(job(tmp_path, output + 'rules = "none.csv"\n'))
    # The table is a source, and never written over.
    (tmp_path / "own.rul").write_bytes(shipped(STEPS).read_bytes())
    with pytest.raises(UsageError, match="overwrite the source"):
        run_job_file(job(tmp_path, output.replace("top.dxf", "own.dxf") + 'rules = "own.rul"\n'))


def test_truing_and_laying_over_are_steps_as_any_other(tmp_path: Path) -> None:
    grade = f'[grade]\nto = ["10", "12", "14"]\nrules = "shipped:{STEPS}"\n'
    out = '[[outputs]]\nfile = "out.svg"\n'
    place = "front: underarm"

    def made(text: str) -> bytes:
        run_job_file(job(tmp_path, text + out))
        return (tmp_path / "out.svg").read_bytes()

    asked = made(grade + f'true-seams = "2 mm"\nalign = "{place}"\n')
    steps = '[[steps]]\ndo = "true-seams"\nup-to = "2 mm"\n'
    steps += f'[[steps]]\ndo = "lay-over"\nat = "{place}"\n'
    assert made(grade + steps) == asked
    pattern = open_pattern(tmp_path / "out.svg").pattern
    places = {
        tuple(p.outline.vertex_at(p.outline.vertex("underarm")).round(6))
        for p in pattern.pieces
        if p.name == "front"
    }
    assert len(places) == 1
    assert made(grade) != asked
