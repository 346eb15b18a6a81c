"""Finding plugins, loading them one by one, and keeping a broken one from hurting the rest."""

from __future__ import annotations

import traceback
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from importlib.metadata import EntryPoint, entry_points
from typing import Any, TypeVar

import pluggy

from ..drafting import prove
from ..errors import PluginError, SizewrightError, UsageError
from ..findings import Finding
from ..model import Pattern
from .declare import (
    Check,
    Offer,
    Operation,
    Outcome,
    Output,
    Reader,
    Values,
    Writer,
    piece_at_work,
)
from .spec import API, GROUP, Hooks

T = TypeVar("T")


@dataclass(frozen=True)
class Plugin:
    """One plugin as it was found: what it offers, or why it cannot be used."""

    name: str
    origin: str
    help: str = ""
    offer: Offer = field(default_factory=Offer)
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
        manager = pluggy.PluginManager("sizewright")
        manager.add_hookspecs(Hooks)
        entries = {(e.name, e.value, _origin(e)): e for e in entry_points(group=GROUP)}
        return cls(_load(manager, entry) for _, entry in sorted(entries.items()))

    # --- looking things up ----------------------------------------------------

    def operation(self, name: str) -> Operation:
        """The operation of that name; UsageError when there is none, PluginError when broken."""
        return self._find("operation", name, lambda offer: offer.operations)

    def writer(self, name: str) -> Writer:
        """The writer of that name."""
        return self._find("writer", name, lambda offer: offer.writers)

    def check(self, name: str) -> Check:
        """The check of that name."""
        return self._find("check", name, lambda offer: offer.checks)

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

    def _find(self, kind: str, name: str, of: Callable[[Offer], tuple[T, ...]]) -> T:
        known: list[str] = []
        broken: Plugin | None = None
        for plugin in self.all:
            if plugin.broken:
                offered = {n for k, n in plugin.offer.names() if k == kind}
                if name == plugin.name or name in offered:
                    broken = plugin
                continue
            for entry in of(plugin.offer):
                known.append(entry.name)  # type: ignore[attr-defined]
                if known[-1] == name:
                    return entry
        if broken:
            raise PluginError(
                broken.trouble,
                where=f'plugin "{broken.name}" from {broken.origin}',
                cure="Mend or uninstall it; `sizewright plugins` lists what works.",
            )
        raise UsageError(
            f'no {kind} is named "{name}"', cure=f"There are: {', '.join(sorted(known)) or 'none'}."
        )


# --- running what plugins offer ---------------------------------------------------


def apply_operation(operation: Operation, pattern: Pattern, values: Values) -> Outcome:
    """Run an operation; a crash inside it becomes a PluginError that names it and the piece.

    What it made is proved: all sizes alike, every seam found.
    """
    result = _guarded(operation.name, lambda: operation.apply(pattern, values))
    if isinstance(result, Pattern):
        result = Outcome(result)
    if not isinstance(result, Outcome):
        raise _wrong(operation.name, result, "a Pattern or an Outcome")
    made = result.pattern
    _guarded(operation.name, lambda: prove(pattern, made))
    return result


def run_writer(writer: Writer, pattern: Pattern, values: Values) -> Output:
    """Run a writer; its bytes with findings."""
    result = _guarded(writer.name, lambda: writer.write(pattern, values))
    if isinstance(result, bytes):
        return Output(result)
    if isinstance(result, Output):
        return result
    raise _wrong(writer.name, result, "bytes or an Output")


def run_check(check: Check, pattern: Pattern, values: Values) -> tuple[Finding, ...]:
    """Run a check; its findings."""
    result = _guarded(check.name, lambda: check.run(pattern, values))
    if isinstance(result, list | tuple) and all(isinstance(f, Finding) for f in result):
        return tuple(result)
    raise _wrong(check.name, result, "a list of Finding")


def _guarded(name: str, call: Callable[[], Any]) -> Any:
    try:
        return call()
    except SizewrightError as error:
        piece = piece_at_work()
        if piece and piece not in error.where:
            error.at(piece)
        raise error.at(name) from None
    except Exception as error:
        piece = piece_at_work()
        raise PluginError(
            f"it failed: {type(error).__name__}: {error}",
            where=f'plugin operation "{name}"' + (f", piece {piece}" if piece else ""),
            cure="Run again with --debug to see where, and tell its author.",
        ) from error


def _wrong(name: str, result: object, right: str) -> PluginError:
    return PluginError(
        f"it returned {type(result).__name__} instead of {right}", where=f'plugin "{name}"'
    )


# --- loading ----------------------------------------------------------------------


def _origin(entry: EntryPoint) -> str:
    dist = entry.dist
    return f"{dist.name} {dist.version} ({entry.value})" if dist else entry.value


def _load(manager: pluggy.PluginManager, entry: EntryPoint) -> Plugin:
    origin = _origin(entry)
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


def _offer(manager: pluggy.PluginManager, module: object) -> Offer:
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
