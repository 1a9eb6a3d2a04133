"""The page for an address that leads nowhere. It is served for any path, so it carries its few styles itself."""

from __future__ import annotations

import base64
import hashlib

from generator.pages.context import Context
from generator.pages.templates import read_template, render_template
from generator.records.presentation import Page


def render_notfound(context: Context) -> Page:
    """Render 404.html; it links only where the site's address is known."""
    style = read_template(context.environment, "404.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    view = {"site": context.site, "style": style, "style_digest": digest, "home": context.absolute("")}
    return Page("404.html", render_template(context.environment, "404.html", view))
