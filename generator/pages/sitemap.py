"""The list of addresses for finders (sitemaps.org protocol 0.9); only a site with an address has one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from markupsafe import escape

from generator.pages.context import Context, canonical
from generator.records.presentation import Page

PATH = "sitemap.xml"
_NAMESPACE = "http://www.sitemaps.org/schemas/sitemap/0.9"


def render_sitemap(paths: Sequence[str], context: Context, changed: Mapping[str, str] | None = None) -> Page | None:
    """Render the sitemap of pages by their paths; ``changed`` gives dates by path. None without an address."""
    if not context.site.address:
        return None
    rows = []
    for path in paths:
        date = (changed or {}).get(path)
        when = f"<lastmod>{escape(date)}</lastmod>" if date else ""
        rows.append(f"<url><loc>{escape(context.absolute(canonical(path)) or '')}</loc>{when}</url>")
    text = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<urlset xmlns="{_NAMESPACE}">\n' + "\n".join(rows) + "\n</urlset>\n"
    )
    return Page(PATH, text)
