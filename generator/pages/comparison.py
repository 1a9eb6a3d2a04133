"""The page of one comparison: its sections in reading order, from results, charts and prose."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup

from generator.pages import sentences
from generator.pages.bench_sheet import view_bench
from generator.pages.computed_cautions import view_cautions
from generator.pages.context import NO_MEDIA, Context, Head, Media, render_page
from generator.pages.figures import format_stated
from generator.pages.files import view_files
from generator.pages.glossary import Glossary
from generator.pages.labels import machine_words
from generator.pages.marks import drop_marks
from generator.pages.methods import METHODS
from generator.pages.prose import Part, Writer
from generator.pages.recordings import view_panel, view_sound, view_surfaces, view_vibration
from generator.pages.report import view_report
from generator.pages.specification import view_specification
from generator.pages.structured import describe_comparison
from generator.pages.summary import summarise
from generator.pages.templates import render_template
from generator.pages.trials import view_trials
from generator.pages.values import list_values
from generator.pages.verdict import view_verdict
from generator.pages.why import view_why
from generator.records.presentation import Chart, Page

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Section:
    """One section of the page: id, label in the section list, heading, template, view, prose, charts."""

    id: str
    label: str
    heading: str
    template: str = ""
    view: Any = None
    text: Sequence[Markup] = ()
    sentences: Sequence[str] = ()
    charts: Sequence[Chart] = ()
    more: Sequence[Chart] = ()


@dataclass(frozen=True)
class _Kind:
    """A section that a comparison may have: key, label, template, and what it shows (None leaves it out)."""

    key: str
    label: str
    template: str
    view: Callable[[Row, Media], Any]
    heading: Callable[[Row], str] | None = None
    prose: Callable[[Row], list[str]] | None = None
    charts: tuple[str, ...] = ()
    names: tuple[str, ...] = field(default=())


def _always(results: Row, media: Media) -> dict[str, Any]:
    return {}


KINDS: tuple[_Kind, ...] = (
    _Kind("corridor", "Corridor", "corridor", _always, sentences.corridor_heading, sentences.corridor_prose,
          ("corridor",), ("the corridor", "prediction")),
    _Kind("bench", "Bench sheet", "bench", lambda results, media: view_bench(results), names=("bench sheet",)),
    _Kind("trials", "Trials", "trials", lambda results, media: view_trials(results) or None, None,
          sentences.trials_prose, ("trial", "drift", "attempts")),
    _Kind("why", "Why", "why", lambda results, media: view_why(results), None, None,
          ("torque", "stall", "tones", "resonance", "influence", "explanation", "calibration"), ("causes",)),
    _Kind("sound", "Sound", "sound", view_sound, charts=("sound", "level", "bands", "spectrum", "tone")),
    _Kind("vibration", "Vibration", "vibration", view_vibration, charts=("vibration", "density", "peak")),
    _Kind("surfaces", "Surfaces", "surfaces", view_surfaces, charts=("surface", "ripple"), names=("surface",)),
    _Kind("panel", "Panel", "panel", view_panel, charts=("panel",)),
    _Kind("verdict", "Verdict", "verdict", lambda results, media: view_verdict(results), charts=("differences",)),
    _Kind("your-machine", "Your machine", "your_machine", lambda results, media: results.get("your_machine")),
    _Kind("specification", "Specification", "specification", lambda results, media: view_specification(results),
          names=("specifications",)),
    _Kind("report", "Test report", "report", lambda results, media: view_report(results)),
    _Kind("cautions", "Cautions", "cautions", lambda results, media: view_cautions(results)),
    _Kind("method", "Method", "method", lambda results, media: {"methods": METHODS}, names=("method and sources",)),
    _Kind("files", "Files", "files", view_files, names=("files and versions",)),
)  # fmt: skip


def render_comparison(
    results: Row,
    charts: Sequence[Chart],
    chart_assets: Mapping[str, tuple[str, str]],
    prose: Mapping[str, str],
    context: Context,
    media: Media = NO_MEDIA,
) -> Page:
    """Render one comparison's page.

    Parameters
    ----------
    results : mapping
        The results object; every number of the page stands in it.
    charts : sequence of Chart
        In the order of the page.
    chart_assets : mapping
        Chart id to the addresses of its wide and narrow drawing, from the site's root.
    prose : mapping
        File name to Markdown, in order. Raises FileProblems with every fault of it.
    context : Context
        What all pages share.
    media : Media
        Published photos, excerpts and downloads.
    """
    results = drop_marks(results)
    draw = _drawer(context, {chart.id: chart for chart in charts}, chart_assets)
    parts = Writer(list_values(results), [chart.id for chart in charts], draw, SECTION_NAMES).parts(prose)
    sections = _sections(results, charts, parts, media)
    view: dict[str, Any] = {
        "results": results,
        "summary": summarise(results),
        "sections": sections,
        "facts": _kicker(results),
        "opening": [part.text for part in parts if not part.key],
        "glossary": Glossary(),
        "draw": draw,
    }
    head = _head(results, sections, context, media)
    path = f"comparisons/{results['comparison']}"
    return render_page(context, "comparison.html", path, head, results.get("data") == "invented", **view)


SECTION_NAMES = {name.lower(): kind.key for kind in KINDS for name in (kind.label, kind.key, *kind.names)}
"""Key of each section by the names that a write-up may give it in a heading."""


def _head(results: Row, sections: Sequence[Section], context: Context, media: Media) -> Head:
    title = results.get("title") or results["comparison"]
    return Head(
        title,
        results.get("answer") or results.get("question") or title,
        "article",
        tuple(describe_comparison(summarise(results), context)),
        results.get("language"),
        media.social_image,
        _scripts(sections),
    )


def _kicker(results: Row) -> list[str]:
    voltages = {row["value"] for row in results.get("inputs") or () if row["path"] == "supply.voltage"}
    supply = format_stated(voltages.pop(), "V") if len(voltages) == 1 else ""
    return [text for text in (machine_words(results.get("machine")), supply, results.get("author")) if text]


def _scripts(sections: Sequence[Section]) -> tuple[str, ...]:
    """The scripts that these sections use, each once."""
    found = [_SCRIPTS[section.id] for section in sections if section.id in _SCRIPTS]
    return tuple(dict.fromkeys(found))


_SCRIPTS = {
    "verdict": "weights", "sound": "blind-viewer", "surfaces": "blind-viewer", "your-machine": "your-machine",
}  # fmt: skip


def _drawer(
    context: Context, charts: Mapping[str, Chart], addresses: Mapping[str, tuple[str, str]]
) -> Callable[[str], Markup]:
    def draw(identifier: str) -> Markup:
        wide, narrow = addresses[identifier]
        view = {"chart": charts[identifier], "wide": wide, "narrow": narrow}
        return Markup(render_template(context.environment, "chart.html", view))

    return draw


def _sections(results: Row, charts: Sequence[Chart], parts: Sequence[Part], media: Media) -> list[Section]:
    """The sections that this comparison has, with the author's own where the write-up puts them."""
    placed = {identifier for part in parts for identifier in part.figures}
    left = [chart for chart in charts if chart.id not in placed]
    shares = _share_out(left)
    made = [section for kind in KINDS if (section := _section(kind, results, shares.get(kind.key, []), parts, media))]
    return _with_own(made, parts)


def _share_out(charts: Sequence[Chart]) -> dict[str, list[Chart]]:
    """Each chart to the section whose prefix its id bears; a stranger goes to the reasons, none is lost."""
    shares: dict[str, list[Chart]] = {}
    for chart in charts:
        key = next((kind.key for kind in KINDS if chart.id.startswith(kind.charts)), "why")
        shares.setdefault(key, []).append(chart)
    return shares


def _give_items(view: Any, charts: Sequence[Chart]) -> list[Chart]:
    """Hand charts named after an item (``sound-<id>``, ``sound-<id>-speed``) to that item's view; return the rest."""
    if not isinstance(view, list):
        return list(charts)
    rest: list[Chart] = []
    for entry in view:
        entry["charts"] = []
    for chart in charts:
        named = chart.id.partition("-")[2]
        owners = [entry for entry in view if named == entry["id"] or named.startswith(f"{entry['id']}-")]
        if owners:
            max(owners, key=lambda entry: len(entry["id"]))["charts"].append(chart.id)
        else:
            rest.append(chart)
    return rest


def _first_of_each(charts: Sequence[Chart]) -> tuple[list[Chart], list[Chart]]:
    """The first chart of each family (``torque``, ``stall`` …) with those of its direction, and the rest.

    A map is drawn for each candidate and direction: those of the first direction stand open.
    """
    shown: list[Chart] = []
    more: list[Chart] = []
    for chart in charts:
        family = [other for other in shown if other.id.partition("-")[0] == chart.id.partition("-")[0]]
        alike = chart.id.startswith("stall-") and bool(family) and _direction(chart.id) == _direction(family[0].id)
        (shown if not family or alike else more).append(chart)
    return shown, more


def _direction(identifier: str) -> str:
    """The end of a chart's id that names its direction: single letters of axes."""
    parts = identifier.split("-")
    axes = [part for part in parts[2:] if part[:1] in "xyz" and len(part) <= 3]
    return "-".join(axes)


def _section(kind: _Kind, results: Row, charts: Sequence[Chart], parts: Sequence[Part], media: Media) -> Section | None:
    view = kind.view(results, media)
    text = [part.text for part in parts if part.key == kind.key]
    if view is None and not text and not charts:
        return None
    heading = kind.heading(results) if kind.heading else kind.label
    generated = kind.prose(results) if kind.prose and not text else ()
    template = f"sections/{kind.template}.html" if view is not None else ""
    shown, more = _first_of_each(_give_items(view, charts)) if kind.key == "why" else (_give_items(view, charts), [])
    return Section(kind.key, kind.label, heading, template, view, text, generated, shown, more)


def _with_own(made: list[Section], parts: Sequence[Part]) -> list[Section]:
    """Put the write-up's own sections after the section that they follow; before all where they follow none."""
    found = list(made)
    for part in reversed([part for part in parts if part.own]):
        place = next((k + 1 for k, section in enumerate(found) if section.id == part.after), 0)
        found.insert(place, Section(part.key, part.heading, part.heading, text=[part.text]))
    return found
