"""`sizewright plugins`."""

from __future__ import annotations

import click

from .options import debug_option
from .printing import say


@click.command()
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON and no table.")
@debug_option
def plugins(name: str | None, as_json: bool) -> int:
    """List the plugins, or tell all about one: what it offers, and its settings.

    NAME is a plugin or anything that one offers. A plugin that cannot be loaded is
    listed with the reason.
    """
    from ..jobs.plugin_list import plugin_json, plugin_text

    say(plugin_json(name) if as_json else plugin_text(name))
    return 0
