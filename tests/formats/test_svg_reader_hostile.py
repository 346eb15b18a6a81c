"""Files that mean harm, or are broken: one clear message, never a traceback, nothing fetched."""

from __future__ import annotations

import socket
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from sizewright.errors import InputError, SizewrightError
from sizewright.formats.svg.reader import read_svg
from tests.formats.drawing import box, codes, drawing, names, only, read

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
SHAPE = box(50, 50, 100, 100, id="a")
SVG = drawing(SHAPE).decode()


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"  \n ",
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        b"not xml at all",
        b"<svg",
        SVG.encode()[:-5],
        SVG.replace("</svg>", "</svg><svg/>").encode(),
        SVG.replace("<path", "<path <").encode(),
        b"\x1f\x8b" + bytes(50),
        b'<?xml version="1.0" encoding="klingon"?><svg/>',
        b"<html/>",
        b'<svg xmlns="http://www.w3.org/1999/xhtml"/>',
    ],
)
def test_what_is_no_svg_is_refused_by_name(data: bytes) -> None:
    with pytest.raises(InputError) as caught:
        read_svg(data, name="drawing.svg")
    assert str(caught.value).startswith("drawing.svg")
    assert caught.value.cure


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nowhere"):
        read_svg(tmp_path / "nowhere.svg")
    with pytest.raises(InputError):
        read_svg(tmp_path)


@pytest.mark.parametrize(
    "doctype",
    [
        "<!DOCTYPE svg>",
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">',
        '<!DOCTYPE svg SYSTEM "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">',
        '<!DOCTYPE svg [<!ENTITY unused "x"><!ELEMENT a ANY>]>',
        '<!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg">]>',
    ],
)
def test_harmless_doctypes_are_read_and_nothing_is_fetched(
    doctype: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_network(*_: object) -> None:
        raise AssertionError("a connection was opened")

    monkeypatch.setattr(socket.socket, "connect", no_network)
    text = doctype + SVG
    if "ENTITY ns" in doctype:
        text = text.replace('xmlns="http://www.w3.org/2000/svg"', 'xmlns="&ns;"')
    assert names(read_svg(text.encode())) == ["a"]


@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE svg SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE svg PUBLIC "-//X//Y" "http://127.0.0.1:9/x.dtd">',
        '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE svg [<!ENTITY % x SYSTEM "file:///etc/passwd"> %x;]>',
        '<!DOCTYPE svg [<!ENTITY x "M0 0H50V50Z">]>',
        '<!DOCTYPE svg [<!ENTITY y "z"><!ENTITY x "&y;&y;">]>',
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_and_outside_definitions_are_refused(doctype: str, encoding: str) -> None:
    text = doctype + SVG.replace('id="a"', 'id="&x;"')
    with pytest.raises(InputError):
        read_svg(text.encode(encoding), name="x.svg")


def test_namespace_addresses_may_not_be_expanded_without_end() -> None:
    long = "http://" + "a" * 190
    body = "&x;" * 10_000
    text = f'<!DOCTYPE svg [<!ENTITY x "{long}">]>' + SVG.replace(
        "</svg>", f"<desc>{body}</desc></svg>"
    )
    with pytest.raises(InputError, match="too often"):
        read_svg(text.encode())


@pytest.mark.parametrize("depth", [100, 119, 5_000, 200_000])
def test_deep_nesting_is_read_or_refused(depth: int) -> None:
    body = "<g>" * depth + SHAPE + "</g>" * depth
    if depth < 110:
        assert names(read(body)) == ["a"]
    else:
        with pytest.raises(InputError, match="nested deeper"):
            read(body)


def test_use_that_grows_without_end_is_refused_in_time() -> None:
    defs = '<path id="l0" d="M0 0H40V40Z"/>'
    for level in range(1, 12):
        inner = f'<use href="#l{level - 1}"/>' * 10
        defs += f'<g id="l{level}">{inner}</g>'
    begun = time.process_time()
    with pytest.raises(InputError, match="`use`"):
        read(f'<defs>{defs}</defs><use href="#l11"/>')
    assert time.process_time() - begun < 30  # a guard against hanging, not a speed


@pytest.mark.parametrize(
    "body",
    [
        '<use id="a" href="#a"/>',
        '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>',
        '<g id="a"><g><use href="#a"/></g></g>',
        '<symbol id="s"><use href="#s"/></symbol><use href="#s"/>',
    ],
)
def test_use_loops_are_refused(body: str) -> None:
    with pytest.raises(InputError, match="refers to itself"):
        read(body)


def test_too_many_segments_are_refused_in_time() -> None:
    begun = time.process_time()
    with pytest.raises(InputError, match="segments"):
        read('<path id="a" d="M0 0' + "h1v1" * 200_000 + '"/>')
    assert time.process_time() - begun < 30  # a guard against hanging, not a speed


@pytest.mark.parametrize(
    "shape",
    [
        '<path id="a" d="M0 0A1e300 1e300 0 0 1 9 9Z"/>',
        '<path id="a" d="M0 0H1e300V5Z"/>',
        '<circle id="a" r="1e200"/>',
        '<rect id="a" width="1e160" height="1e160" rx="1e159"/>',
        '<ellipse id="a" rx="1e12" ry="1"/>',
        '<g transform="scale(1e200) scale(1e200)"><circle id="a" r="9"/></g>',
        '<g transform="scale(1e12)"><path id="a" d="M0 0H9V9Z"/></g>',
    ],
)
def test_what_is_beyond_any_measure_is_refused(shape: str) -> None:
    with pytest.raises(InputError, match=r"100 km|finite"):
        read(shape)


def test_a_transform_that_flattens_a_piece_is_told() -> None:
    for flat in ("scale(1 0)", "scale(0)", "matrix(1 1 1 1 0 0)", "scale(1e-300)"):
        reading = read(f'<g transform="{flat}">{SHAPE}</g>{box(200, 50, 50, 50, id="b")}')
        assert "b" in names(reading)
        assert "a" not in names(reading)


def test_broken_style_sheets_do_no_harm() -> None:
    sheet = "path { fill: none; ]] } #a {{ display none } @media print { #a { display: none } }"
    assert names(read(f"<style>{sheet}</style>{SHAPE}")) == ["a"]
    reading = read(f'<style>@import "http://127.0.0.1:9/x.css";</style>{SHAPE}')
    assert codes(reading) == ["style-outside"]


@pytest.mark.parametrize(
    ("sheet", "attributes", "seen"),
    [
        ("#a { display: none }", "", False),
        ("path { display: none }", 'display="inline"', False),
        (".x { display: none } path { display: inline }", 'class="x"', False),
        ("path { display: none } .x { display: inline }", 'class="x"', True),
        ("path { display: none !important }", 'style="display: inline"', False),
        ("g > path { visibility: hidden }", "", False),
        ("@media screen { path { display: none } }", "", False),
        ("@media print { path { display: none } }", "", True),
        ("path:nth-child(2) { display: none }", "", True),
        ("svg g path { display: none }", "", False),
        ("path { display: none /* off */ ; }", "", False),
    ],
)
def test_cascade(sheet: str, attributes: str, seen: bool) -> None:
    shape = SHAPE.replace("<path", f"<path {attributes}")
    reading = read(f"<style><![CDATA[{sheet}]]></style><g>{shape}</g>")
    assert names(reading) == (["a"] if seen else [])


SEED = (FIXTURES / "features.svg").read_bytes()


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    cuts=st.lists(
        st.tuples(st.integers(0, len(SEED) - 1), st.integers(0, 40), st.binary(max_size=12)),
        min_size=1,
        max_size=4,
    )
)
@example(cuts=[(0, 0, b"")])
def test_mutated_files_end_in_a_message_or_a_reading(cuts: list[tuple[int, int, bytes]]) -> None:
    data = SEED
    for at, length, new in cuts:
        data = data[:at] + new + data[at + length :]
    message = "mutated.svg"
    try:
        read_svg(data, name="mutated.svg")
    except SizewrightError as error:
        message = str(error)
    assert message.startswith("mutated.svg")


@given(
    st.lists(
        st.sampled_from(
            [
                *("<g>", "</g>", '<g data-piece="a">', '<g id="12">', '<use href="#u" x="9"/>'),
                *(SHAPE, box(60, 60, 30, 30), '<g id="u">', '<path d="M50 50H150"/>', "<switch>"),
                *("</switch>", '<path data-role="sew" d="M55 55h80v80h-80z"/>', "<symbol>"),
                *('<circle data-point="p" cx="50" cy="50" r="1"/>', "</symbol>", "<text>x</text>"),
                *('<path id="a.fold" d="M50 60V140"/>', '<g transform="scale(-1 2)">', "<svg>"),
                *('<path data-role="notch" d="M99 50v5"/>', "</svg>", '<g data-role="outline">'),
                *(
                    '<circle data-hold="yes" cx="99" cy="48" r="1"/>',
                    '<path data-dart="d" d="M9 9"/>',
                ),
            ]
        ),
        max_size=14,
    )
)
def test_any_heap_of_elements_ends_in_a_message_or_a_reading(parts: list[str]) -> None:
    try:
        reading = read("".join(parts))
    except SizewrightError:
        return
    assert all(p.area > 0 for p in reading.pattern.pieces)


def test_readings_are_the_same_each_time() -> None:
    assert read_svg(SEED) == read_svg(SEED)


def test_a_symbol_takes_the_size_of_its_use() -> None:
    symbol = '<symbol id="s" viewBox="0 0 10 10"><path d="M0 0H10V10Z"/></symbol>'
    piece = only(read(f'{symbol}<use id="u" href="#s" x="20" y="30" width="50" height="60"/>'))
    assert piece.name == "u"
    assert piece.bounds == pytest.approx((20, 215, 70, 265))
