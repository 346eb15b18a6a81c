"""What plugins there are and what they offer, as text and JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from ..errors import UsageError, meant
from ..plugin import Check, Operation, Plugin, Plugins, Reader, Setting, Writer

Entry = Operation | Reader | Writer | Check


def plugin_json(name: str | None) -> str:
    """The JSON of `plugins [NAME] --json`."""
    found = _chosen(name)
    return json.dumps({"schema": 1, "plugins": [_as_dict(p) for p in found]}, indent=2)


def plugin_text(name: str | None) -> str:
    """The list of plugins; with a name, all that there is to know of that one."""
    found = _chosen(name)
    lines: list[str] = []
    if name is None:
        width = max((len(p.name) for p in found), default=0)
        for plugin in found:
            about = f"cannot be used: {plugin.trouble}" if plugin.broken else plugin.help
            lines.append(f"{plugin.name:<{width}}  {about}")
        lines += ["", "All about one of them: sizewright plugins NAME"]
        return "\n".join(lines if found else ["no plugins are installed"])
    for plugin in found:
        lines += [plugin.name, f"  {plugin.help}" if plugin.help else "", f"  from {plugin.origin}"]
        if plugin.broken:
            lines += [f"  cannot be used: {plugin.trouble}", "", plugin.details.rstrip()]
        for kind, entry in entries(plugin):
            lines += ["", f"  {kind} {entry.name}: {entry.help}"]
            for setting in entry.settings:
                lines.append(f"    {setting.name}: {setting.help}")
                lines.append(f"      takes {setting.expected()}{_extras(setting)}")
    return "\n".join(line for line in lines if line is not None)


def entries(plugin: Plugin) -> Iterator[tuple[str, Entry]]:
    """(kind, what it is) of everything that a plugin offers."""
    for kind, group in (
        ("operation", plugin.offer.operations),
        ("reader", plugin.offer.readers),
        ("writer", plugin.offer.writers),
        ("check", plugin.offer.checks),
    ):
        for entry in group:
            yield kind, entry


def _chosen(name: str | None) -> tuple[Plugin, ...]:
    plugins = Plugins.discover().all
    if name is None:
        return plugins
    found = tuple(p for p in plugins if name == p.name or name in {n for _, n in p.offer.names()})
    if not found:
        known = ", ".join(p.name for p in plugins) or "none"
        offered = [p.name for p in plugins] + [n for p in plugins for _, n in p.offer.names()]
        cure = f"{meant(name, offered)}There are: {known}."
        raise UsageError(f'no plugin is named "{name}"', cure=cure)
    return found


def _as_dict(plugin: Plugin) -> dict[str, Any]:
    return {
        "name": plugin.name,
        "origin": plugin.origin,
        "help": plugin.help,
        "broken": plugin.broken,
        "trouble": plugin.trouble,
        "offers": [
            {
                "kind": kind,
                "name": entry.name,
                "help": entry.help,
                "settings": [_setting_dict(s) for s in entry.settings],
            }
            for kind, entry in entries(plugin)
        ],
    }


def _setting_dict(setting: Setting) -> dict[str, Any]:
    return {
        "name": setting.name,
        "kind": setting.kind,
        "shape": setting.shape,
        "help": setting.help,
        "default": setting.default,
        "required": setting.required,
        "low": setting.low,
        "high": setting.high,
        "choices": list(setting.choices),
    }


def default_words(setting: Setting) -> str:
    """A setting's default as it is told."""
    value = setting.default
    if value is None or value == () or value == {} or value == "":
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _extras(setting: Setting) -> str:
    default = "needed" if setting.required else f"default {default_words(setting)}"
    return "; " + "; ".join(part for part in (setting.limits(), default) if part)
