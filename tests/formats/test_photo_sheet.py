"""The printed sheet of marks, as pdfium renders it."""

from __future__ import annotations

import itertools

import numpy as np
import pypdfium2
import pytest
from scipy import ndimage

from sizewright.formats.photo.marks import SHEETS, SIDE, Sheet
from sizewright.formats.photo.sheet_out import sheet_pdf

#: Pixels for each mm.
FINE = 8.0


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.title)
def test_squares_are_printed_where_they_are_said_to_be(sheet: Sheet) -> None:
    page = pypdfium2.PdfDocument(sheet_pdf(sheet.paper))[sheet.number - 1]
    assert np.allclose(page.get_size(), np.array(sheet.size) / 25.4 * 72, atol=1e-3)
    dark = page.render(scale=FINE * 25.4 / 72, grayscale=True).to_numpy() < 128
    labels, _ = ndimage.label(dark)
    found = []
    for number, (rows, columns) in enumerate(ndimage.find_objects(labels), 1):
        own = labels[rows, columns] == number
        if np.abs(np.array(own.shape) / FINE - SIDE).max() < 0.3 and own.mean() > 0.95:
            y, x = ndimage.center_of_mass(own)
            at = np.array([columns.start + x + 0.5, rows.start + y + 0.5]) / dark.shape[::-1]
            found.append(sheet.size * np.array([at[0], 1 - at[1]]))
    wanted = sheet.places(sheet.nodes)
    assert len(found) == len(wanted) >= 22
    apart = np.hypot(*(np.array(found)[:, None] - wanted).transpose(2, 0, 1))
    assert apart.min(axis=1).max() < 0.1
    # Within the frame, and free of the edge where printers do not print.
    assert 12.0 <= wanted.min() - SIDE / 2 < 18.2


def test_no_sheet_looks_like_another_however_it_is_turned() -> None:
    def turns(sheet: Sheet) -> list[set[tuple[int, int]]]:
        nodes = sheet.nodes
        seen = []
        for _ in range(4):
            nodes = np.stack([-nodes[:, 1], nodes[:, 0]], axis=1)
            seen.append({(int(i), int(j)) for i, j in nodes - nodes.min(axis=0)})
        return seen

    looks = [look for sheet in SHEETS for look in turns(sheet)]
    assert all(a != b for a, b in itertools.combinations(looks, 2))


def test_the_same_bytes_each_time() -> None:
    assert sheet_pdf("A4") == sheet_pdf("A4")
