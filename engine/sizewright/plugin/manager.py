"""Finding plugins, loading them one by one, and keeping a broken one from hurting the rest."""

from __future__ import annotations

import traceback
from collections import defaultdict
from collections.abc import Callable, Container, Iterable
from importlib.metadata import EntryPoint, entry_points
from pathlib import PurePath
from types import ModuleType
from typing import Any, NamedTuple, TypeVar

import pluggy

from ..budget import one_budget
from ..errors import PluginError, SizewrightError, UsageError, meant
from ..findings import Finding
from ..model import Pattern
from ..units import Unit
from .declare import (
    Check,
    Offer,
    Operation,
    Outcome,
    Output,
    Reader,
    Values,
    When,
    Writer,
    piece_at_work,
)
from .settings import check_settings
from .spec import API, GROUP, Hooks

T = TypeVar("T", Operation, Writer, Check, Reader)
_UNASKED: tuple[When, ...] = ("reading", "job", "asked")


class _Manager(pluggy.PluginManager):
    """Looks in modules for what is marked alone: pluggy's own look at all else takes long."""

    def parse_hookimpl_opts(self, plugin: object, name: str) -> Any:
        member = vars(plugin).get(name) if isinstance(plugin, ModuleType) else None
        if member is not None and not hasattr(member, "sizewright_impl"):
            return None
        return super().parse_hookimpl_opts(plugin, name)


class Plugin(NamedTuple):
    """One plugin as it was found: what it offers, or why it cannot be used."""

    name: str
    origin: str
    help: str = ""
    offer: Offer = Offer()
    trouble: str = ""
    details: str = ""

    @property
    def broken(self) -> bool:
        """True when it cannot be used; `trouble` says why."""
        return bool(self.trouble)


class Plugins:
    """All plugins of this environment, in order of name.

    Broken ones are kept and shown, and raise PluginError (exit 3) only when something
    of theirs is asked for.
    """

    def __init__(self, found: Iterable[Plugin]) -> None:
        self.all = tuple(_refuse_twins(sorted(found, key=lambda p: (p.name, p.origin))))

    @classmethod
    def discover(cls) -> Plugins:
        """Load every plugin that is installed, one by one."""
        manager = _Manager("sizewright")
        manager.add_hookspecs(Hooks)
        entries = list(entry_points(group=GROUP))
        origins = _origins(entries)
        found = {(e.name, e.value, o): e for e, o in zip(entries, origins, strict=True)}
        return cls(_load(manager, entry, key[2]) for key, entry in sorted(found.items()))

    # --- looking things up ----------------------------------------------------

    def operation(self, name: str) -> Operation:
        """The operation of that name; UsageError when there is none, PluginError when broken."""
        return self._find("operation", self.operations, name)

    def writer(self, name: str) -> Writer:
        """The writer of that name."""
        return self._find("writer", self.writers, name)

    def check(self, name: str) -> Check:
        """The check of that name."""
        return self._find("check", self.checks, name)

    def reader(self, name: str) -> Reader:
        """The reader of that name."""
        return self._find("reader", self.readers, name)

    def reader_of(self, head: bytes, name: str) -> Reader | None:
        """The reader that claims a file by its first bytes and its name; None where none does.

        Raises PluginError where several claim it, with their origins, and where the only one
        that does is broken or fails in claiming.
        """
        trouble: PluginError | None = None
        claims: list[tuple[Reader, Plugin]] = []
        for plugin in sorted(self.all, key=lambda p: p.broken):
            for reader in plugin.offer.readers:
                try:
                    if not reader.claim(head, name):
                        continue
                except Exception as error:
                    trouble = trouble or _crash(f'reader "{reader.name}" of {plugin.origin}', error)
                    continue
                if plugin.broken:
                    trouble = trouble or _unusable(plugin)
                else:
                    claims.append((reader, plugin))
        if len(claims) > 1:
            each = " and ".join(f'"{r.name}" of {p.origin}' for r, p in claims)
            raise PluginError(
                f"several readers claim this file: {each}",
                where=name,
                cure=f"Say which, as --set reader={claims[0][0].name}, or in a job under "
                f'[reading], as reader = "{claims[0][0].name}".',
            )
        if claims:
            return claims[0][0]
        if trouble:
            raise trouble
        return None

    def writer_of(self, out: str, name: str | None = None) -> Writer:
        """The writer called `name`, else the one that the ending of the file name `out` chooses.

        Raises UsageError where there is none or several, and for an ending that the named
        one does not make.
        """
        ending = PurePath(out).suffix.lower()
        if name is not None:
            writer = self.writer(name)
            if writer.suffixes and ending not in writer.suffixes:
                raise UsageError(
                    f'the writer "{name}" makes {" or ".join(writer.suffixes)}',
                    where=out,
                    cure="Give the file that ending, or leave the writer out.",
                )
            return writer
        found = [w for w in self.writers if w.by_ending and ending in w.suffixes]
        if len(found) > 1:
            raise UsageError(
                f'several writers make "{ending}": {", ".join(w.name for w in found)}',
                where=out,
                cure=f'Say which, as write = "{found[0].name}" in a job, or '
                f"--profile {found[0].name}.",
            )
        if found:
            return found[0]
        for plugin in self.all:
            if plugin.broken and any(ending in w.suffixes for w in plugin.offer.writers):
                raise _unusable(plugin)
        what = f'the ending "{ending}" is of no format' if ending else "the name has no ending"
        endings = sorted({e for w in self.writers if w.by_ending for e in w.suffixes})
        raise UsageError(
            f"{what} that sizewright writes", where=out, cure=f"Use one of {', '.join(endings)}."
        )

    @property
    def readers(self) -> tuple[Reader, ...]:
        """Readers of all sound plugins."""
        return tuple(r for p in self.all if not p.broken for r in p.offer.readers)

    @property
    def writers(self) -> tuple[Writer, ...]:
        """Writers of all sound plugins."""
        return tuple(w for p in self.all if not p.broken for w in p.offer.writers)

    @property
    def operations(self) -> tuple[Operation, ...]:
        """Operations of all sound plugins."""
        return tuple(o for p in self.all if not p.broken for o in p.offer.operations)

    @property
    def checks(self) -> tuple[Check, ...]:
        """Checks of all sound plugins."""
        return tuple(c for p in self.all if not p.broken for c in p.offer.checks)

    def _find(self, kind: str, sound: tuple[T, ...], name: str) -> T:
        known = {entry.name: entry for entry in sound}
        if name in known:
            return known[name]
        for plugin in self.all[::-1]:
            if plugin.broken and (name == plugin.name or (kind, name) in plugin.offer.names()):
                raise _unusable(plugin)
        raise UsageError(
            f'no {kind} is named "{name}"',
            cure=f"{meant(name, known)}There are: {', '.join(sorted(known)) or 'none'}.",
        )


# --- running what plugins offer ---------------------------------------------------


def apply_operation(operation: Operation, pattern: Pattern, values: Values) -> Outcome:
    """Run an operation; a crash inside it becomes a PluginError that names it and the piece.

    What it made is proved: all sizes alike, every seam found.
    """
    from ..drafting import prove

    result = _guarded(operation.name, lambda: operation.apply(pattern, values))
    if isinstance(result, Pattern):
        result = Outcome(result)
    if not isinstance(result, Outcome):
        raise _wrong(operation.name, result, "a Pattern or an Outcome")
    made = result.pattern
    _guarded(operation.name, lambda: prove(pattern, made))
    return result


def run_writer(writer: Writer, pattern: Pattern, values: Values) -> Output:
    """Run a writer; its bytes with findings. Raises PluginError where it crashes."""
    result = _guarded(writer.name, lambda: writer.write(pattern, values))
    if isinstance(result, bytes):
        return Output(result)
    if isinstance(result, Output):
        return result
    raise _wrong(writer.name, result, "bytes or an Output")


def run_reader(reader: Reader, data: bytes, name: str, units: Unit | None, values: Values) -> Any:
    """Run a reader; its `sizewright.formats.Reading`. `name` is what messages call the file.

    Raises PluginError where it crashes.
    """
    try:
        with one_budget():
            result = reader.read(data, name, units, values)
    except SizewrightError as error:
        raise error if name in error.where else error.at(name) from None
    except Exception as error:
        raise _crash(f'{name}: reader "{reader.name}"', error) from error
    if not isinstance(getattr(result, "pattern", None), Pattern):
        raise _wrong(reader.name, result, "a Reading")
    return result


def run_check(check: Check, pattern: Pattern, values: Values) -> tuple[Finding, ...]:
    """Run a check; its findings. Raises PluginError where it crashes."""
    result = _guarded(check.name, lambda: check.run(pattern, values))
    if isinstance(result, list | tuple) and all(isinstance(f, Finding) for f in result):
        return tuple(result)
    raise _wrong(check.name, result, "a list of Finding")


def look_over(
    plugins: Plugins, pattern: Pattern, when: When, *, but: Container[str] = ()
) -> tuple[Finding, ...]:
    """What the checks that run unasked find: on a `reading`, and those of a `job` besides.

    `asked` runs all that need no setting. Those named in `but` are left out.
    """
    runs = _UNASKED[: _UNASKED.index(when) + 1]
    found: list[Finding] = []
    for check in plugins.checks:
        needs = any(s.required for s in check.settings)
        if check.when in runs and check.name not in but and not needs:
            found += run_check(check, pattern, check_settings(check.name, check.settings, {}))
    return tuple(found)


def _guarded(name: str, call: Callable[[], Any]) -> Any:
    try:
        return call()
    except SizewrightError as error:
        piece = piece_at_work(error)
        if piece and piece not in error.where:
            error.at(piece)
        raise error.at(name) from None
    except Exception as error:
        raise _crash(f'plugin operation "{name}"', error) from error


def _crash(where: str, error: Exception) -> PluginError:
    piece = piece_at_work(error)
    return PluginError(
        f"it failed: {type(error).__name__}: {error}",
        where=where + (f", piece {piece}" if piece else ""),
        cure="Run again with --debug to see where, and tell its author.",
    )


def _unusable(plugin: Plugin) -> PluginError:
    return PluginError(
        plugin.trouble,
        where=f'plugin "{plugin.name}" from {plugin.origin}',
        cure="Mend or uninstall it; `sizewright plugins` lists what works.",
    )


def _wrong(name: str, result: object, right: str) -> PluginError:
    return PluginError(
        f"it returned {type(result).__name__} instead of {right}", where=f'plugin "{name}"'
    )


# --- loading ----------------------------------------------------------------------


def _origins(entries: Iterable[EntryPoint]) -> Iterable[str]:
    """Where each entry comes from: its distribution, which is read once, and its module."""
    called: dict[int, str] = {}
    for entry in entries:
        dist = entry.dist
        if dist and id(dist) not in called:
            called[id(dist)] = f"{dist.name} {dist.version}"
        yield f"{called[id(dist)]} ({entry.value})" if dist else entry.value


def _load(manager: _Manager, entry: EntryPoint, origin: str) -> Plugin:
    module: object | None = None
    try:
        module = entry.load()
        api = getattr(module, "api", None)
        if not isinstance(api, int):
            raise PluginError(f"it does not declare `api = {API}`")
        if api > API:
            raise PluginError(f"it needs plugin interface {api}; this Sizewright speaks {API}")
        manager.register(module, f"{entry.name} from {origin}")
        manager.check_pending()
        offer = _offer(manager, module)
    except (Exception, SystemExit) as error:
        # pluggy can stop half-way and leave the plugin listed.
        if module is not None and manager.is_registered(module):
            manager.unregister(module)
        text = str(error) if isinstance(error, SizewrightError) else _described(error)
        return Plugin(entry.name, origin, trouble=text, details=traceback.format_exc())
    doc = (getattr(module, "__doc__", None) or "").strip()
    return Plugin(entry.name, origin, doc.split("\n", 1)[0], offer)


def _described(error: BaseException) -> str:
    return f"it cannot be loaded: {type(error).__name__}: {error}"


def _offer(manager: _Manager, module: object) -> Offer:
    others = [p for p in manager.get_plugins() if p is not module]
    hooks = Offer(
        *(
            tuple(_flat(manager.subset_hook_caller(name, others)()))
            for name in ("add_operations", "add_readers", "add_writers", "add_checks")
        )
    )
    kinds = (Operation, Reader, Writer, Check)
    for entries, kind in zip(
        (hooks.operations, hooks.readers, hooks.writers, hooks.checks), kinds, strict=True
    ):
        for entry in entries:
            if not isinstance(entry, kind):
                raise PluginError(f"it offers {entry!r} where a {kind.__name__} belongs")
    return hooks


def _flat(results: Iterable[Iterable[Any] | None]) -> Iterable[Any]:
    for result in results:
        yield from result or ()


def _refuse_twins(found: Iterable[Plugin]) -> Iterable[Plugin]:
    """Plugins as found, those that claim one name (or offer one thing) marked as unusable."""
    plugins = list(found)
    claims: dict[tuple[str, str], list[Plugin]] = defaultdict(list)
    for plugin in (p for p in plugins if not p.broken):
        claims["plugin", plugin.name].append(plugin)
        for claim in plugin.offer.names():
            claims[claim].append(plugin)
    for plugin in plugins:
        for claim in (("plugin", plugin.name), *plugin.offer.names()):
            rivals = claims[claim]
            if len(rivals) > 1 and not plugin.broken:
                kind, name = claim
                origins = " and ".join(p.origin for p in rivals)
                plugin = Plugin(
                    plugin.name,
                    plugin.origin,
                    plugin.help,
                    plugin.offer,
                    f'the {kind} name "{name}" is claimed twice, by {origins}',
                )
        yield plugin
