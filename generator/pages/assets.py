"""The site's own style sheet, scripts and icon as assets named by their content."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

import jinja2

from generator.pages.templates import read_template
from generator.records.presentation import Asset

STYLES = ("tokens", "base", "layout", "parts", "comparison", "narrow", "print")
SCRIPTS = ("weights", "blind-viewer", "filter", "your-machine")


def name_asset(content: bytes, extension: str) -> Asset:
    """An asset whose name is the first 16 digits of its digest."""
    return Asset(f"{hashlib.sha256(content).hexdigest()[:16]}.{extension}", content)


def collect_assets(environment: jinja2.Environment, palette_css: str) -> dict[str, Asset]:
    """Style sheet, scripts and icon by name; ``palette_css`` declares the charts' colours as custom properties."""
    style = palette_css.strip() + "\n" + "".join(read_template(environment, f"styles/{name}.css") for name in STYLES)
    scripts = {name: read_template(environment, f"scripts/{name}.js") for name in SCRIPTS}
    found = {"style": name_asset(style.encode(), "css")}
    found["icon"] = name_asset(read_template(environment, "icon.svg").encode(), "svg")
    return found | {name: name_asset(text.encode(), "js") for name, text in scripts.items()}


def addresses(assets: Mapping[str, Asset]) -> dict[str, str]:
    """Where each asset stands in the site, from its root."""
    return {name: asset.address for name, asset in assets.items()}
