"""What stands in place of a content that is gone: a page that says so, a picture, a text, silence. Touches no file."""

from __future__ import annotations

import html
import io
import posixpath
import struct

from generator.archive import names
from generator.archive.sources import pack_sources

PICTURES = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".webp": "WEBP"}
PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex">
<title>{title}</title>
</head>
<body>
<main>
<h1>{title}</h1>
<p>{text}</p>
<p><a href="{link}">{label}</a></p>
</main>
</body>
</html>
"""
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 480 120" role="img"><title>{text}</title>'
    '<rect width="480" height="120" fill="#eee"/>'
    '<text x="240" y="64" text-anchor="middle" font-family="sans-serif" font-size="16" fill="#222">{text}</text>'
    "</svg>\n"
)


def render_dropped_page(page_path: str, version: str, published: str) -> bytes:
    """The page at the address of a frozen copy that was dropped to save space."""
    text = (
        f"Version {version[:12]} of this page, first published on {published}, was kept here. Its copy has been "
        "dropped to save space; the record of the build that published it stays in the archive."
    )
    return _render_page("This copy is no longer kept", text, page_path, names.find_frozen_file(page_path, version))


def render_withdrawn_page(page_path: str, file: str, date: str, reason: str) -> bytes:
    """The page in place of one that was withdrawn; ``file`` is where it stands."""
    text = f"What stood here was withdrawn on {date}. Reason: {reason}"
    return _render_page("This page was withdrawn", text, page_path, file)


def render_withdrawn_file(path: str, date: str, reason: str) -> bytes:
    """What stands in place of a withdrawn file: something of its own kind, so that old pages still work."""
    text = f"This file was withdrawn on {date}. Reason: {reason}"
    suffix = posixpath.splitext(path)[1].lower()
    if suffix in PICTURES:
        return _draw_picture(PICTURES[suffix])
    if suffix == ".svg":
        return DRAWING.format(text=html.escape(f"withdrawn on {date}")).encode()
    if suffix == ".wav":
        return _make_silence()
    if suffix == ".zip":
        return pack_sources("withdrawn", {"withdrawn.txt": f"{text}\n".encode()})
    if suffix == ".json":
        return f"{names.render_json({'withdrawn': date, 'reason': reason})}\n".encode()
    if suffix in (".css", ".js"):
        return b"/* withdrawn */\n"
    return f"{text}\n".encode()


def _render_page(title: str, text: str, page_path: str, file: str) -> bytes:
    """A plain page that needs nothing else of the site."""
    is_newest = file == names.find_page_file(page_path)
    target = "index.html" if is_newest else names.find_page_file(page_path)
    label = "To the start page" if is_newest else "To the newest version"
    link = html.escape(names.find_root(file) + target)
    return PAGE.format(title=title, text=html.escape(text), link=link, label=label).encode()


def _draw_picture(kind: str) -> bytes:
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (480, 120), (238, 238, 238))
    ImageDraw.Draw(picture).text((200, 54), "withdrawn", fill=(34, 34, 34))
    target = io.BytesIO()
    picture.save(target, kind)
    return target.getvalue()


def _make_silence() -> bytes:
    """A tenth of a second of silence as a WAV file."""
    rate, count = 8000, 800
    head = struct.pack("<IHHIIHH", 16, 1, 1, rate, 2 * rate, 2, 16)
    body = b"WAVEfmt " + head + b"data" + struct.pack("<I", 2 * count) + bytes(2 * count)
    return b"RIFF" + struct.pack("<I", len(body)) + body
