"""What all pages of a site share: the template environment, the styles and scripts, and the context that names them."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from pathlib import Path

import jinja2

from generator.charts.palette import css_properties, render_swatch, style_of
from generator.pages.assets import addresses, collect_assets
from generator.pages.context import Context, Look
from generator.pages.templates import STEPS, environment
from generator.records.comparison import Site
from generator.records.presentation import Asset


def make_context(
    site: Site, templates: tuple[str, ...], digest: str, made_with: str, steps: int = STEPS
) -> tuple[Context, list[Asset]]:
    """What all pages share, and the assets (styles, scripts, icon) that it names.

    Parameters
    ----------
    site : Site
    templates : tuple of str
        Folders searched in order.
    digest : str
        Digest of all their files: templates of another content are compiled anew.
    made_with : str
        Name and version of the program, for the foot of each page.
    steps : int
        Longest range that a template may make.
    """
    made, assets = _compile(templates, digest, steps)
    return Context(site, made, addresses(assets), made_with, look=find_look), list(assets.values())


@functools.lru_cache(maxsize=1)
def _compile(templates: tuple[str, ...], digest: str, steps: int) -> tuple[jinja2.Environment, Mapping[str, Asset]]:
    """Environment and assets of some templates; once for all comparisons that a process makes."""
    made = environment([Path(folder) for folder in templates], steps)
    return made, collect_assets(made, css_properties())


def find_look(index: int) -> Look:
    """How the candidate at a place in its file is marked: as in the charts."""
    style = style_of(index)
    return Look(style.slot, render_swatch(style))
