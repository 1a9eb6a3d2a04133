"""Looks through a whole site for anything active, badly formed or leaked; returns what it found, never raises."""

from __future__ import annotations

import csv
import gzip
import io
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit
from xml.etree import ElementTree

import html5lib

SAFE_ADDRESS = re.compile(r"[A-Za-z0-9._-]+(?:/[A-Za-z0-9._-]+)*")
EVENT = re.compile(r"on[a-z]+", re.IGNORECASE)
ADDRESSES = {"href", "src", "srcset", "action", "formaction", "poster", "data", "background", "cite", "ping"}
EMBEDDING = {"iframe", "object", "embed", "applet", "frame", "frameset", "base", "portal", "marquee"}
DATA_BLOCKS = {"application/json", "application/ld+json"}
FORMULA = re.compile(r"[=+@\t\r]|-(?!\d|inf)")


def list_files(site: Path) -> list[str]:
    """Every file's address in the site."""
    return sorted(path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file())


def scan_site(site: Path) -> list[str]:
    """All that is wrong with any file, one line each."""
    found = []
    for address in list_files(site):
        content = (site / address).read_bytes()
        if address.endswith(".gz"):
            address, content = address[:-3], gzip.decompress(content)
        scan = SCANS.get(address.rpartition(".")[2], lambda content: iter(()))
        found += [f"{address}: {fault}" for fault in scan(content)]
    return found


def scan_page(content: bytes) -> Iterator[str]:
    """An HTML page as a browser would parse it."""
    parser = html5lib.HTMLParser(html5lib.treebuilders.getTreeBuilder("etree"), namespaceHTMLElements=False)
    tree = parser.parse(content.decode("utf-8"))
    yield from (f"parse error {code} at {place} {data}" for place, code, data in parser.errors)
    metas = [
        e.get("content", "") for e in tree.iter("meta") if e.get("http-equiv", "").lower() == "content-security-policy"
    ]
    if not any("default-src 'none'" in policy or "default-src 'self'" in policy for policy in metas):
        yield "no content security policy"
    for element in tree.iter():
        if isinstance(element.tag, str):
            yield from _scan_element(element.tag, element.attrib, "".join(element.itertext()))


def _scan_element(tag: str, attributes: dict[str, str], text: str) -> Iterator[str]:
    tag = tag.rpartition("}")[2]
    if tag in EMBEDDING:
        yield f"<{tag}>"
    if tag == "script" and not attributes.get("src"):
        if attributes.get("type") not in DATA_BLOCKS:
            yield f"inline script {text[:60]!r}"
        else:
            yield from _scan_json(text)
    if tag == "meta" and attributes.get("http-equiv", "").lower() == "refresh" and "javascript" in str(attributes):
        yield "refresh to a script"
    for name, value in attributes.items():
        name = name.rpartition("}")[2].lower()
        if EVENT.fullmatch(name):
            yield f"<{tag} {name}={value[:60]!r}>"
        if name in ADDRESSES:
            yield from _scan_link(tag, name, value)


def _scan_link(tag: str, name: str, value: str) -> Iterator[str]:
    for place in value.split(",") if name == "srcset" else [value]:
        parts = urlsplit(re.sub(r"[\x00-\x20]", "", place.strip().split(" ")[0]))
        if parts.scheme not in ("", "http", "https", "mailto"):
            yield f"<{tag} {name}={value[:60]!r}>"
        if tag not in ("a", "link", "blockquote", "q") and (parts.scheme or parts.netloc):
            yield f"loads from elsewhere: <{tag} {name}={value[:60]!r}>"


def _scan_json(text: str) -> Iterator[str]:
    def refuse(constant: str) -> None:
        raise ValueError(constant)

    try:
        json.loads(text, parse_constant=refuse)
    except ValueError as error:
        yield f"no JSON: {error}"


def scan_xml(content: bytes) -> Iterator[str]:
    """XML that is well formed and holds nothing active: SVG, feed, site map."""
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        yield "a document type or an entity"
    try:
        tree = ElementTree.fromstring(content)
    except ElementTree.ParseError as error:
        yield f"not well formed: {error}"
        return
    for element in tree.iter():
        tag = element.tag.rpartition("}")[2]
        if tag in {"script", "foreignObject", "iframe", "animate", "set", "handler", "image"}:
            yield f"<{tag}>"
        for name, value in element.attrib.items():
            bare = name.rpartition("}")[2]
            if EVENT.fullmatch(bare):
                yield f"<{tag} {bare}>"
            if bare in ("href", "src") and re.match(r"\s*(?:javascript|data|vbscript):", value, re.IGNORECASE):
                yield f"<{tag} {bare}={value[:60]!r}>"
            if bare == "href" and b"<svg" in content[:400] and not value.startswith("#"):
                yield f"a drawing that leads elsewhere: {value[:60]!r}"


def scan_table(content: bytes) -> Iterator[str]:
    """CSV in which no cell is a formula to a spreadsheet, and every row has as many cells as the header."""
    rows = list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))
    for number, row in enumerate(rows, 1):
        if len(row) != len(rows[0]):
            yield f"row {number} has {len(row)} cells"
        yield from (f"row {number}: formula {cell[:40]!r}" for cell in row if FORMULA.match(cell))


def scan_json(content: bytes) -> Iterator[str]:
    """Strict JSON."""
    yield from _scan_json(content.decode("utf-8"))


def scan_zip(content: bytes) -> Iterator[str]:
    """A zip whose members stay below one folder and are plain files."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        yield from filter(None, [archive.testzip()])
        for member in archive.infolist():
            steps = member.filename.split("/")
            if member.filename.startswith("/") or "\\" in member.filename or {"", ".", ".."} & set(steps):
                yield f"member {member.filename!r}"
            if member.external_attr >> 16 & 0o170000 != 0o100000:
                yield f"member {member.filename!r} is no plain file"


SCANS: dict[str, Callable[[bytes], Iterator[str]]] = {
    "html": scan_page,
    "svg": scan_xml,
    "xml": scan_xml,
    "csv": scan_table,
    "json": scan_json,
    "zip": scan_zip,
}
"""Checks by suffix."""


def list_layers(address: str, content: bytes) -> Iterator[tuple[str, bytes]]:
    """A file's bytes, and those of everything packed in it: zip members, gzip, compressed chunks of PNG files."""
    yield address, content
    if content.startswith(b"\x1f\x8b"):
        yield from list_layers(f"{address}!gz", gzip.decompress(content))
    elif content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for member in archive.infolist():
                yield f"{address}!{member.filename}#head", repr(member).encode() + member.comment + member.extra
                yield from list_layers(f"{address}!{member.filename}", archive.read(member))
    elif content.startswith(b"\x89PNG"):
        yield from ((f"{address}!{kind}", body) for kind, body in _texts_of_png(content))


def _texts_of_png(content: bytes) -> Iterator[tuple[str, bytes]]:
    place = 8
    while place + 8 <= len(content):
        size, kind = struct.unpack_from(">I4s", content, place)
        body = content[place + 8 : place + 8 + size]
        for start in range(min(len(body), 90)) if kind in (b"zTXt", b"iTXt", b"iCCP") else ():
            try:
                yield kind.decode(), zlib.decompress(body[start:])
            except zlib.error:
                continue
        place += 12 + size
