"""The author's Markdown: references to charts and values filled in, cleaned, cut into the sections of the page.

Text before the first heading opens the page. A heading of the first or second level that bears the name of a section
(``Trials``, ``Why``, ``Sound`` …) starts that section's text; any other such heading is a section of its own, which
stands where the write-up puts it.
"""

from __future__ import annotations

import difflib
import html
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

from markupsafe import Markup

from generator.errors import FileProblems, Problem
from generator.pages.binding import bind_markup, bind_units

_REFERENCE = re.compile(r"(?P<code>`+)(?:.*?)(?P=code)|\\\{|\{\s*(?P<kind>figure|value)\s*:\s*(?P<name>[^{}\n]*)\}")
_UNSAFE = re.compile(
    r"<\s*/?\s*(?:script|style|iframe|object|embed|form|input|button|link|meta|base|svg|math|template)\b"
    r"|<[^>]*\son\w+\s*="
    r"|(?:href|src)\s*=\s*[\"']?\s*(?:javascript|data|vbscript):"
    r"|\]\(\s*<?\s*(?:javascript|data|vbscript):",
    re.IGNORECASE,
)
_PICTURE = re.compile(r"!\[[^\]]*\]\s*[(\[]|<\s*img\b", re.IGNORECASE)
_LINK = re.compile(r"(?<!!)\[[^\]]*\]\(\s*<?([^)\s>]+)|^\s{0,3}\[[^\]^]+\]:\s*<?(\S+?)>?(?:\s|$)", re.MULTILINE)
_SAFE_LINK = re.compile(r"(?:https?://|mailto:|/|#)", re.IGNORECASE)
_FENCE = re.compile(r"^ {0,3}(`{3,}|~{3,})")
_HEADING = re.compile(r"^ {0,3}(#{1,2})\s+(.*?)\s*#*\s*$")
_MARKS = re.compile("[\ue000-\uf8ff\U000f0000-\U0010fffd]")
_TOKEN = re.compile("[\U000f0000-\U0010fffd]")
_TOKEN_BASE = 0xF0000
_UNWANTED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ue000-\uf8ff]")
"""What a text may not hold and a character reference like &#xe000; could still bring in."""
_TAGS = {
    "p", "h3", "h4", "h5", "h6", "ul", "ol", "li", "dl", "dt", "dd", "em", "strong", "code", "pre", "blockquote", "hr",
    "br", "sup", "sub", "abbr", "a", "table", "thead", "tbody", "tr", "th", "td", "kbd", "del", "ins", "cite", "q",
}  # fmt: skip


@dataclass(frozen=True)
class Part:
    """A piece of the write-up: key of the section it belongs to (empty: the page's opening), heading, cleaned HTML.

    own is true where the write-up makes the section itself; after is then the key of the section that it follows.
    """

    key: str
    heading: str
    text: Markup
    figures: tuple[str, ...]
    own: bool = False
    after: str = ""


@dataclass(frozen=True)
class _Piece:
    file: str
    heading: str
    lines: tuple[str, ...]


class Writer:
    """Turns one comparison's prose into parts; collects every problem before it raises."""

    def __init__(
        self,
        values: Mapping[str, str],
        figures: Collection[str],
        draw: Callable[[str], Markup],
        sections: Mapping[str, str],
    ) -> None:
        """values: text by reference; figures: ids; draw: HTML of a chart; sections: key by lower-case name."""
        self.values = values
        self.figures = figures
        self.draw = draw
        self.sections = sections
        self.problems: list[Problem] = []
        self.fillings: list[Markup] = []

    def parts(self, prose: Mapping[str, str]) -> list[Part]:
        """All parts in order; raises FileProblems with every fault of every file."""
        found: list[Part] = []
        last = ""
        for file, text in prose.items():
            self.check(file, text)
            for piece in _pieces(file, self.fill(file, _MARKS.sub("", text))):
                part = self.part(piece, last, {each.key for each in found})
                last = part.key if not part.own else last
                found.append(part)
        if self.problems:
            raise FileProblems(sorted(self.problems))
        return [part for part in found if part.text.strip() or part.own]

    def part(self, piece: _Piece, last: str, taken: set[str]) -> Part:
        """One piece as a part: of a named section, or a section of its own."""
        placed: list[str] = []
        text = self.render(piece, placed)
        if not piece.heading:
            return Part("", "", text, tuple(placed))
        filled = _TOKEN.sub(lambda match: self.filling(match[0]).striptags(), _plain(piece.heading))
        heading = _MARKS.sub("", _UNWANTED.sub("", html.unescape(filled)))
        key = self.sections.get(heading.lower(), "")
        if key:
            return Part(key, "", text, tuple(placed))
        identifier = _unique(f"text-{_slug(heading)}", taken)
        return Part(identifier, heading, text, tuple(placed), own=True, after=last)

    # --- references -----------------------------------------------------------------------------------------------

    def fill(self, file: str, text: str) -> list[str]:
        """Lines with every reference replaced by a token that Markdown and the cleaner let through."""
        lines = []
        for number, line, code in _marked_lines(text):
            lines.append(line if code else self.fill_line(file, number, line))
        return lines

    def fill_line(self, file: str, number: int, line: str) -> str:
        """One line outside code blocks."""

        def replace(match: re.Match[str]) -> str:
            if match["code"]:
                return match.group()
            if not match["kind"]:
                return "&#123;"
            name = " ".join(match["name"].split())
            place = (file, number, match.start() + 1)
            if match["kind"] == "value":
                return self.value(name, place)
            return self.figure(name, place, alone=line.strip() == match.group())

        return _REFERENCE.sub(replace, line)

    def value(self, name: str, place: tuple[str, int, int]) -> str:
        """Token of a value."""
        if name not in self.values:
            self.unknown("value", name, self.values, place)
            return ""
        return self.token(Markup('<span class="value">{}</span>').format(bind_units(self.values[name])))

    def figure(self, name: str, place: tuple[str, int, int], alone: bool) -> str:
        """Token of a chart."""
        if name not in self.figures:
            self.unknown("figure", name, self.figures, place)
            return ""
        if not alone:
            fix = "put the reference on a line of its own, between empty lines"
            self.problems.append(_problem(place, "figure-not-alone", f"the figure {name} stands inside a line", fix))
            return ""
        return f"\n{self.token(Markup(name), figure=True)}\n"

    def token(self, filling: Markup, figure: bool = False) -> str:
        """A private character that stands for a filling; figures are drawn when their part is rendered."""
        self.fillings.append(Markup("\ue010") + filling if figure else filling)
        return chr(_TOKEN_BASE + len(self.fillings) - 1)

    def unknown(self, kind: str, name: str, known: Collection[str], place: tuple[str, int, int]) -> None:
        """Note a reference to something that does not exist, with the nearest that do."""
        near = difflib.get_close_matches(name, list(known), n=3, cutoff=0.4)
        fix = f"write one of: {', '.join(near)}" if near else f"there are: {', '.join(list(known)[:8]) or 'none'}"
        if kind == "value":
            fix += "; `stallmark values` lists all"
        self.problems.append(_problem(place, f"{kind}-unknown", f'there is no {kind} "{name}"', fix))

    # --- rendering ------------------------------------------------------------------------------------------------

    def render(self, piece: _Piece, placed: list[str]) -> Markup:
        """Markdown to cleaned HTML with fillings in place; placed collects the ids of charts."""
        import markdown
        import nh3

        made = markdown.markdown(
            "\n".join(piece.lines), extensions=["tables", "sane_lists", "fenced_code"], output_format="html"
        )
        clean = nh3.clean(
            _ordered_headings(made),
            tags=_TAGS,
            attributes={"a": {"href", "title"}, "abbr": {"title"}, "ol": {"start"}},
            url_schemes={"http", "https", "mailto"},
            link_rel=None,
        )
        clean = _UNWANTED.sub("", clean)
        clean = re.sub(r'href="/([^"]*)"', lambda match: f'href="{_site_link(match[1])}"', clean)
        clean = clean.replace("<table>", _TABLE_OPEN).replace("</table>", "</table></section>")
        clean = re.sub(r"<p>\s*([\U000f0000-\U0010fffd])\s*</p>", lambda match: self.block(match[1], placed), clean)
        bound = bind_markup(clean)
        return Markup(_TOKEN.sub(lambda match: self.filling(match[0]), bound))

    def block(self, token: str, placed: list[str]) -> str:
        """A token alone in its paragraph: a chart is drawn there, a value keeps its paragraph."""
        filling = self.filling(token)
        if not filling.startswith("\ue010"):
            return f"<p>{filling}</p>"
        placed.append(str(filling[1:]))
        return str(self.draw(placed[-1]))

    def filling(self, token: str) -> Markup:
        """What a token stands for; nothing for one that the text made up by a character reference."""
        number = ord(token) - _TOKEN_BASE
        return self.fillings[number] if number < len(self.fillings) else Markup("")

    # --- checks ---------------------------------------------------------------------------------------------------

    def check(self, file: str, text: str) -> None:
        """Note what cannot be published: scripts, pictures, links that would break in a frozen page."""
        for number, line, code in _marked_lines(text):
            if not code:
                self.check_line(file, number, re.sub(r"(`+).*?\1", lambda match: " " * len(match[0]), line))

    def check_line(self, file: str, number: int, line: str) -> None:
        """One line outside code."""
        if match := _UNSAFE.search(line):
            fix = "remove it; prose is text, and charts come with {figure: …}"
            message = f"active content in prose: {match.group().strip()[:40]}"
            self.problems.append(_problem((file, number, match.start() + 1), "prose-unsafe", message, fix))
        if match := _PICTURE.search(line):
            fix = "place a chart with {figure: …}; photos belong under surfaces"
            message = "a picture in prose is not published"
            self.problems.append(_problem((file, number, match.start() + 1), "prose-picture", message, fix))
        for link in _LINK.finditer(line):
            target = link[1] or link[2]
            if not _SAFE_LINK.match(target) and not _UNSAFE.search(line):
                fix = "write the whole address, or start it with / for a page of this site, or with # for this page"
                message = f'the relative link "{target[:60]}" would break in the archive'
                self.problems.append(_problem((file, number, link.start() + 1), "prose-link", message, fix))


_TABLE_OPEN = '<section class="scroll" aria-label="Table" tabindex="0"><table>'


def _problem(place: tuple[str, int, int], code: str, message: str, fix: str) -> Problem:
    file, line, column = place
    return Problem(file, line, column, "", code, message, fix)


def _marked_lines(text: str) -> Iterator[tuple[int, str, bool]]:
    """(line number, line, whether it belongs to a code block)."""
    fence = ""
    for number, line in enumerate(text.splitlines(), 1):
        mark = _FENCE.match(line)
        if fence:
            closes = mark is not None and mark[1].startswith(fence) and not line.strip().strip(fence[0])
            yield number, line, True
            fence = "" if closes else fence
        elif mark:
            fence = mark[1]
            yield number, line, True
        else:
            yield number, line, False


def _pieces(file: str, lines: list[str]) -> Iterator[_Piece]:
    """Cut at headings of the first and second level, outside code blocks."""
    heading, kept = "", []
    for _, line, code in _marked_lines("\n".join(lines)):
        match = None if code else _HEADING.match(line)
        if match is None:
            kept.append(line)
            continue
        yield _Piece(file, heading, tuple(kept))
        heading, kept = match[2], []
    yield _Piece(file, heading, tuple(kept))


def _ordered_headings(made: str) -> str:
    """Headings inside a section start at the third level and never skip one on the way down."""
    level = 2

    def shift(match: re.Match[str]) -> str:
        nonlocal level
        level = min(max(int(match[1]), 3), level + 1, 6)
        return f"<h{level}>{match[2]}</h{level}>"

    return re.sub(r"<h([1-6])[^>]*>(.*?)</h\1>", shift, made, flags=re.DOTALL)


def _site_link(path: str) -> str:
    """A link from the site's root, through the mark that the archive replaces."""
    from generator.pages.templates import link

    return html.escape(str(link(html.unescape(path))), quote=True)


def _plain(heading: str) -> str:
    return re.sub(r"[*_`]", "", heading).strip()


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "part"


def _unique(identifier: str, taken: set[str]) -> str:
    number, found = 2, identifier
    while found in taken:
        found, number = f"{identifier}-{number}", number + 1
    return found
