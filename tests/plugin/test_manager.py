"""Plugins found one by one: a broken one is seen and harms nobody; twins are refused."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import types
from dataclasses import replace
from importlib.metadata import EntryPoint
from typing import Any

import pytest

from sizewright.errors import InputError, LookupFailed, PluginError, UsageError
from sizewright.findings import Finding
from sizewright.formats import Reading
from sizewright.model import Pattern
from sizewright.plugin import (
    Check,
    Operation,
    Outcome,
    Plugins,
    Reader,
    Writer,
    apply_operation,
    hookimpl,
    run_check,
    run_reader,
    run_writer,
    working_on,
)
from tests.shapes import bodice

PATTERN = Pattern((bodice(),))
READING = Reading(PATTERN)


def same(pattern: Pattern, _values: object) -> Pattern:
    return pattern


def operation(name: str, apply: Any = same) -> Operation:
    return Operation(name, "does nothing", apply)


class World:
    """Entry points of modules made here, as if they were installed."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.entries: list[EntryPoint] = []
        self.patch = monkeypatch
        monkeypatch.setattr("sizewright.plugin.manager.entry_points", lambda group: self.entries)

    def add(self, name: str, module: str | None = None, **members: object) -> None:
        module = module or f"stranger_{name.replace('-', '_')}"
        made = types.ModuleType(module, "A stranger's plugin.\n\nMore.")
        made.__dict__.update({"api": 1, **members})
        self.patch.setitem(sys.modules, module, made)
        self.entries.append(EntryPoint(name, module, "sizewright.plugins"))

    def formats(self, name: str, *readers: Reader, writers: tuple[Writer, ...] = ()) -> None:
        self.add(
            name,
            add_readers=hookimpl(lambda: list(readers)),
            add_writers=hookimpl(lambda: list(writers)),
        )

    def offering(self, name: str, *operations: Operation, **more: Any) -> None:
        @hookimpl
        def add_operations() -> list[Operation]:
            return list(operations)

        self.add(name, add_operations=add_operations, **more)


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> World:
    return World(monkeypatch)


def test_sound_plugins_come_in_order_of_name(world: World) -> None:
    world.offering("zigzag", operation("zigzag"))
    world.offering("basting", operation("baste"), operation("tack"))
    plugins = Plugins.discover()
    assert [p.name for p in plugins.all] == ["basting", "zigzag"]
    assert [o.name for o in plugins.operations] == ["baste", "tack", "zigzag"]
    assert plugins.all[0].help == "A stranger's plugin."
    assert plugins.operation("tack").name == "tack"


def test_an_unknown_name_lists_what_there_is(world: World) -> None:
    world.offering("basting", operation("baste"))
    with pytest.raises(UsageError, match="baste"):
        Plugins.discover().operation("bast")


@pytest.mark.parametrize(
    ("members", "says"),
    [
        ({"api": 2}, "interface 2"),
        ({"api": None}, "api = 1"),
        ({"api": "1"}, "api = 1"),
        ({"add_operations": hookimpl(lambda: 1 / 0)}, "ZeroDivisionError"),
        ({"add_operations": hookimpl(lambda: ["baste"])}, "'baste' where a Operation belongs"),
        ({"add_operation": hookimpl(lambda: [*()])}, "add_operation"),
        ({"add_operations": hookimpl(lambda cloth: [])}, "cloth"),
    ],
)
def test_a_broken_plugin_is_shown_and_leaves_the_others_alone(
    world: World, members: dict[str, object], says: str
) -> None:
    world.add("frayed", **members)
    world.offering("basting", operation("baste"))
    plugins = Plugins.discover()
    assert plugins.operation("baste")
    (broken,) = (p for p in plugins.all if p.broken)
    assert broken.name == "frayed"
    assert says in broken.trouble
    assert broken.details.startswith("Traceback")
    with pytest.raises(PluginError, match="frayed") as caught:
        plugins.operation("frayed")
    assert caught.value.exit_code == 3
    assert "stranger_frayed" in str(caught.value)


def test_a_module_that_is_not_there_or_ends_the_program_is_broken(world: World) -> None:
    world.entries.append(EntryPoint("gone", "no_such_module_at_all", "sizewright.plugins"))

    class Leaving(types.ModuleType):
        def __getattr__(self, name: str) -> object:
            raise SystemExit(0)

    world.patch.setitem(sys.modules, "leaving_module", Leaving("leaving_module"))
    world.entries.append(EntryPoint("leaving", "leaving_module", "sizewright.plugins"))
    plugins = Plugins.discover()
    assert [p.broken for p in plugins.all] == [True, True]
    assert "ModuleNotFoundError" in plugins.all[0].trouble


def test_two_that_offer_one_operation_are_refused_with_both_origins(world: World) -> None:
    world.offering("basting", operation("baste"))
    world.offering("other-basting", operation("baste"), operation("tack"))
    world.offering("zigzag", operation("zigzag"))
    plugins = Plugins.discover()
    with pytest.raises(PluginError) as caught:
        plugins.operation("baste")
    assert "stranger_basting" in str(caught.value)
    assert "stranger_other_basting" in str(caught.value)
    assert plugins.operation("zigzag")


def test_two_of_one_name_are_refused_but_a_broken_namesake_takes_nothing(world: World) -> None:
    world.offering("basting", operation("baste"))
    world.add("basting", "stranger_namesake", api=99)
    assert Plugins.discover().operation("baste")
    world.add("basting", "stranger_twin")
    with pytest.raises(PluginError, match="stranger_twin"):
        Plugins.discover().operation("baste")


def test_the_same_entry_point_seen_twice_is_one(world: World) -> None:
    world.offering("basting", operation("baste"))
    world.entries.append(world.entries[0])
    assert len(Plugins.discover().all) == 1


def test_nothing_is_kept_between_discoveries(world: World) -> None:
    world.offering("basting", operation("baste"))
    Plugins.discover()
    world.entries.clear()
    assert Plugins.discover().all == ()


# --- readers and writers ----------------------------------------------------------


def reader(name: str, sign: bytes, read: Any = None) -> Reader:
    return Reader(name, "", lambda head, _name: head.startswith(sign), read or (lambda *_: READING))


def failing(_head: bytes, _name: str) -> bool:
    raise RuntimeError("needle broke")


def test_a_file_goes_to_the_reader_that_claims_it(world: World) -> None:
    world.formats("knots", reader("knots", b"KN"), reader("bows", b"BO"))
    plugins = Plugins.discover()
    found = plugins.reader_of(b"BOW", "a.bow")
    assert found is not None
    assert found.name == "bows"
    assert plugins.reader_of(b"XX", "a.x") is None


def test_a_tie_of_claims_is_refused_with_both_origins_and_mended_by_naming_one(
    world: World,
) -> None:
    world.formats("knots", reader("knots", b"K"))
    world.formats("other-knots", reader("fine-knots", b"KN"))
    plugins = Plugins.discover()
    with pytest.raises(PluginError) as caught:
        plugins.reader_of(b"KNOT", "a.knot")
    message = str(caught.value)
    for part in ("a.knot", '"knots" of stranger_knots', "stranger_other_knots", "--set reader="):
        assert part in message
    assert plugins.reader("fine-knots").name == "fine-knots"


def test_a_claim_that_fails_harms_only_files_that_nobody_else_claims(world: World) -> None:
    world.formats("knots", reader("knots", b"KN"))
    world.formats("frayed", Reader("frayed", "", failing, lambda *_: READING))
    plugins = Plugins.discover()
    assert plugins.reader_of(b"KN", "a.knot") is plugins.reader("knots")
    with pytest.raises(PluginError, match=r'reader "frayed" of stranger_frayed.*needle broke'):
        plugins.reader_of(b"XX", "a.x")


def test_readers_that_may_not_be_used_are_told_of_when_their_file_comes(world: World) -> None:
    world.formats("knots", reader("knots", b"KN"))
    world.formats("twin", reader("knots", b"KN"))
    plugins = Plugins.discover()
    assert plugins.reader_of(b"XX", "a.x") is None
    with pytest.raises(PluginError, match="claimed twice"):
        plugins.reader_of(b"KN", "a.knot")


def test_what_a_reader_raises_or_returns_is_told_with_the_file() -> None:
    def refuse(_data: bytes, name: str, *_: object) -> None:
        raise InputError("it is torn", where="line 3")

    read: Any = run_reader(reader("knots", b""), b"x", "a.knot", None, {})
    assert read is READING
    with pytest.raises(InputError, match=r"a\.knot: line 3: it is torn"):
        run_reader(reader("knots", b"", refuse), b"x", "a.knot", None, {})
    with pytest.raises(PluginError, match=r'a\.knot: reader "knots": it failed: ZeroDivision'):
        run_reader(reader("knots", b"", lambda *_: 1 / 0), b"x", "a.knot", None, {})
    with pytest.raises(PluginError, match="Pattern instead of a Reading"):
        run_reader(reader("knots", b"", lambda *_: PATTERN), b"x", "a.knot", None, {})


def writer(name: str, *suffixes: str, by_ending: bool = True) -> Writer:
    return Writer(name, "", lambda p, v: b"x", suffixes, (), by_ending)


def test_a_writer_is_chosen_by_ending_or_by_name(world: World) -> None:
    many = (writer("knots", ".kn"), writer("tight", ".kn", by_ending=False), writer("any"))
    world.formats("knots", writers=many)
    plugins = Plugins.discover()
    assert plugins.writer_of("a.KN").name == "knots"
    assert plugins.writer_of("a.kn", "tight").name == "tight"
    assert plugins.writer_of("a.b", "any").name == "any"
    with pytest.raises(UsageError, match=r'"tight" makes \.kn'):
        plugins.writer_of("a.svg", "tight")
    with pytest.raises(UsageError, match=r"no format.*Use one of \.kn"):
        plugins.writer_of("a.b")
    with pytest.raises(UsageError, match="no ending"):
        plugins.writer_of("a")
    with pytest.raises(UsageError, match="any, knots, tight"):
        plugins.writer_of("a.kn", "loose")


def test_writers_of_one_ending_have_to_be_named_and_broken_ones_are_told(world: World) -> None:
    world.formats("knots", writers=(writer("knots", ".kn"),))
    world.formats("bows", writers=(writer("bows", ".kn"),))
    with pytest.raises(UsageError, match=r'several writers make "\.kn": bows, knots'):
        Plugins.discover().writer_of("a.kn")
    assert Plugins.discover().writer_of("a.kn", "bows").name == "bows"
    world.formats("twin", writers=(writer("knots", ".kn"),))
    assert Plugins.discover().writer_of("a.kn").name == "bows"
    world.formats("other-twin", writers=(writer("bows", ".kn"),))
    with pytest.raises(PluginError, match="claimed twice"):
        Plugins.discover().writer_of("a.kn")


def test_built_ins_are_loaded_without_what_is_heavy() -> None:
    code = (
        "import sys\nfrom sizewright.plugin import Plugins\n"
        "assert not [p.trouble for p in Plugins.discover().all if p.broken]\n"
        "print(*{'.'.join(m.split('.')[:2]) for m in sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "sizewright_plugins.svg" in loaded
    heavy = {"scipy", "shapely", "ezdxf", "svgelements", "reportlab"}
    assert not heavy & {name.split(".")[0] for name in loaded}
    rooms = {"drafting", "grading", "pictures", "laying", "jobs", "spreadsheets"}
    assert not {f"sizewright.{room}" for room in rooms} & loaded


# --- running ----------------------------------------------------------------------


def test_a_crash_names_operation_piece_and_cause() -> None:
    def crash(pattern: Pattern, _values: object) -> Pattern:
        for piece in pattern.pieces:
            with working_on(piece):
                raise RuntimeError("needle broke")
        return pattern

    with pytest.raises(PluginError) as caught:
        apply_operation(operation("baste", crash), PATTERN, {})
    message = str(caught.value)
    for part in ("baste", "front", "RuntimeError", "needle broke"):
        assert part in message
    assert isinstance(caught.value.__cause__, RuntimeError)


def test_a_users_error_keeps_its_kind_and_gains_the_trail() -> None:
    def refuse(pattern: Pattern, _values: object) -> Pattern:
        with working_on(pattern.pieces[0]):
            raise InputError("the hem is too short", cure="Lengthen it.")

    with pytest.raises(InputError, match="baste: front: the hem is too short") as caught:
        apply_operation(operation("baste", refuse), PATTERN, {})
    assert caught.value.exit_code == 2
    with pytest.raises(LookupFailed) as later:
        apply_operation(operation("tack", lambda p, v: bodice().outline.run("x")), PATTERN, {})
    assert "front" not in later.value.where


def test_a_piece_is_blamed_only_for_what_was_raised_in_its_own_block() -> None:
    def tries(pattern: Pattern, _values: object) -> Pattern:
        with contextlib.suppress(ValueError), working_on(pattern.pieces[0]):
            raise ValueError("caught, and done with")
        raise RuntimeError("of no piece")

    with pytest.raises(PluginError) as caught:
        apply_operation(operation("baste", tries), PATTERN, {})
    assert "front" not in str(caught.value)

    def nested(pattern: Pattern, _values: object) -> Pattern:
        other = replace(pattern.pieces[0], name="back", size="12")
        with working_on(pattern.pieces[0]), working_on(other):
            raise RuntimeError("of the inner one")

    with pytest.raises(PluginError, match="piece back 12:"):
        apply_operation(operation("baste", nested), PATTERN, {})


def test_results_are_what_they_must_be() -> None:
    found = Finding("x", "note", "seen")
    assert apply_operation(operation("a"), PATTERN, {}).pattern is PATTERN
    kept = Outcome(PATTERN, (found,))
    assert apply_operation(operation("a", lambda p, v: kept), PATTERN, {}) is kept
    with pytest.raises(PluginError, match="NoneType"):
        apply_operation(operation("a", lambda p, v: None), PATTERN, {})
    assert run_writer(Writer("w", "", lambda p, v: b"x"), PATTERN, {}).data == b"x"
    with pytest.raises(PluginError, match="str"):
        run_writer(Writer("w", "", lambda p, v: "x"), PATTERN, {})  # type: ignore[arg-type, return-value]
    assert run_check(Check("c", "", lambda p, v: [found]), PATTERN, {}) == (found,)
    with pytest.raises(PluginError, match="list"):
        run_check(Check("c", "", lambda p, v: ["bad"]), PATTERN, {})  # type: ignore[list-item]
