"""The template environment: where templates lie, which ones the site's owner replaces, and what goes wrong in one.

Templates are the owner's own code and are trusted; what they print is escaped. A fault in one is a Problem with
file and line; a fault of ours, in the project's own templates too, keeps its traceback.
"""

from __future__ import annotations

import json
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from generator.errors import FileProblems, Problem
from generator.pages.binding import bind_printed, keep_whole
from generator.pages.days import day
from generator.pages.mathml import MathError, equation, math
from generator.records.presentation import PUBLISHED, ROOT, VERSION

PACKAGE = Path(__file__).resolve().parent.parent


def find_templates() -> Path:
    """The project's own templates: beside the package in a checkout, inside it when installed."""
    for folder in (PACKAGE / "templates", PACKAGE.parent / "templates"):
        if (folder / "base.html").is_file():
            return folder
    raise FileNotFoundError(f"no templates beside {PACKAGE} or in it")


def template_dirs(override: Path | None = None) -> tuple[Path, ...]:
    """Folders to search in order: the owner's, where given, then the project's own."""
    return (find_templates(),) if override is None else (override, find_templates())


STEPS = 100_000
"""Steps of one ``range`` in a template where no limit is given [1]."""


TOLD = (jinja2.TemplateRuntimeError, MathError, RecursionError, OverflowError)
"""Faults that are a template's, whoever raised them."""


def environment(folders: Sequence[Path], steps: int = STEPS) -> jinja2.Environment:
    """A Jinja environment over ``folders``, first hit wins; everything printed is escaped, nothing undefined passes.

    Units are bound to their figures in everything printed. No ``range`` is longer than ``steps``.
    """
    made = jinja2.Environment(
        loader=_Loader([str(folder) for folder in folders]),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=bind_printed,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.globals |= {
        "range": lambda *ends: _bounded_range(steps, *ends),
        "math": math,
        "equation": equation,
        "link": link,
        "version_mark": VERSION,
        "published_mark": PUBLISHED,
    }
    made.filters["json_island"] = json_island
    made.filters["day"] = day
    made.filters["whole"] = keep_whole
    return made


class _Loader(jinja2.FileSystemLoader):
    """Reads templates; one that is no UTF-8 text has a fault in the line where it stops being one."""

    def get_source(self, environment: jinja2.Environment, template: str) -> tuple[str, str, Callable[[], bool]]:
        try:
            return super().get_source(environment, template)
        except UnicodeDecodeError as fault:
            file = next(path for folder in self.searchpath if (path := Path(folder, template)).is_file())
            line = fault.object.count(b"\n", 0, fault.start) + 1
            raise jinja2.TemplateSyntaxError("it is no UTF-8 text", line, template, str(file)) from fault


class _TooLong(jinja2.TemplateRuntimeError):
    """A range that is too long to be meant."""


def _bounded_range(steps: int, *ends: int) -> range:
    """A range, or the problem that it is too long to be meant."""
    found = range(*ends)
    if len(found) > steps:
        message = f"a range of {len(found)} steps; at most {steps} are made (limit template_steps)"
        raise _TooLong(message)
    return found


def link(path: str) -> Markup:
    """A link that works from any page and any frozen copy of it; a folder names its index.html."""
    target, mark, fragment = path.partition("#")
    if not target or target.endswith("/"):
        target += "index.html"
    elif "." not in target.rsplit("/", 1)[-1]:
        target += "/index.html"
    return Markup(ROOT) + target + mark + fragment


def json_island(data: Any) -> Markup:
    """JSON for a data block in a page: no character in it can end the block or look like markup."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


def read_template(made: jinja2.Environment, name: str) -> str:
    """The raw text of a file in the template folders, such as a style sheet; one that is no text as FileProblems."""
    assert made.loader is not None
    with _template_faults(name):
        return made.loader.get_source(made, name)[0]


def render_template(made: jinja2.Environment, name: str, view: dict[str, Any]) -> str:
    """Render one template; a fault in an owner's one is raised as FileProblems."""
    with _template_faults(name):
        return made.get_template(name).render(view)


CODES = {
    MathError: "template-equation",
    jinja2.UndefinedError: "template-undefined",
    _TooLong: "template-endless",
    RecursionError: "template-endless",
    OverflowError: "template-endless",
}


@contextmanager
def _template_faults(name: str) -> Iterator[None]:
    try:
        yield
    except jinja2.TemplateSyntaxError as fault:
        raise FileProblems(
            [_problem(fault.filename or name, fault.lineno, "template-syntax", fault.message)]
        ) from fault
    except jinja2.TemplateNotFound as fault:
        message = f"the template {fault.name} was not found"
        raise FileProblems([_problem(name, 0, "template-missing", message)]) from fault
    except TOLD as fault:
        places = [place for place in _list_places(fault) if _is_template(place[0])]
        file, line = places[0] if places else (name, 0)
        raise FileProblems([_problem(file, line, _code(fault), str(fault))]) from fault
    except Exception as fault:
        place = _find_owners_place(fault)
        if place is None:
            raise
        file, line = place
        message = f"{type(fault).__name__}: {fault}"
        raise FileProblems([_problem(file, line, "template-failed", message)]) from fault


def _code(fault: Exception) -> str:
    return next((code for kind, code in CODES.items() if isinstance(fault, kind)), "template-failed")


def _find_owners_place(fault: Exception) -> tuple[str, int] | None:
    """Deepest place in an owner's template, if a template and no code of ours was last to act; else None."""
    places = _list_places(fault)
    if not places or not _is_template(places[0][0]):
        return None
    project = find_templates()
    return next((place for place in places if _is_template(place[0]) and project not in Path(place[0]).parents), None)


def _list_places(fault: Exception) -> list[tuple[str, int]]:
    """Files and lines of the traceback in templates and in our own code, deepest first.

    Jinja maps its compiled lines back to a template's own.
    """
    frames = [(frame.filename, frame.lineno or 0) for frame in traceback.extract_tb(fault.__traceback__)]
    return [place for place in reversed(frames) if _is_template(place[0]) or PACKAGE in Path(place[0]).parents]


def _is_template(file: str) -> bool:
    return not file.endswith(".py") and not file.startswith("<")


def _problem(file: str, line: int, code: str, message: str | None) -> Problem:
    fix = "mend the template, or remove it so that the project's own one is used"
    return Problem(file, line, 1 if line else 0, "", code, message or "the template cannot be rendered", fix)
