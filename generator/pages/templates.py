"""The template environment: where templates lie, which ones the site's owner replaces, and what goes wrong in one.

Templates are the owner's own code and are trusted; what they print is escaped. A fault in one is a Problem with
file and line.
"""

from __future__ import annotations

import json
import traceback
from collections.abc import Iterator, Sequence
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


def find_templates() -> Path:
    """The project's own templates: beside the package in a checkout, inside it when installed."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "templates", package.parent / "templates"):
        if (folder / "base.html").is_file():
            return folder
    raise FileNotFoundError(f"no templates beside {package} or in it")


def template_dirs(override: Path | None = None) -> tuple[Path, ...]:
    """Folders to search in order: the owner's, where given, then the project's own."""
    return (find_templates(),) if override is None else (override, find_templates())


STEPS = 100_000
"""Steps of one ``range`` in a template where no limit is given [1]."""


def environment(folders: Sequence[Path], steps: int = STEPS) -> jinja2.Environment:
    """A Jinja environment over ``folders``, first hit wins; everything printed is escaped, nothing undefined passes.

    Units are bound to their figures in everything printed. No ``range`` is longer than ``steps``.
    """
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader([str(folder) for folder in folders]),
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


def _bounded_range(steps: int, *ends: int) -> range:
    """A range, or the problem that it is too long to be meant."""
    found = range(*ends)
    if len(found) > steps:
        message = f"a range of {len(found)} steps; at most {steps} are made (limit template_steps)"
        raise jinja2.TemplateRuntimeError(message)
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
    """The raw text of a file in the template folders, such as a style sheet or a script."""
    assert made.loader is not None
    return made.loader.get_source(made, name)[0]


def render_template(made: jinja2.Environment, name: str, view: dict[str, Any]) -> str:
    """Render one template; a fault in it is raised as FileProblems."""
    with _template_faults(name):
        return made.get_template(name).render(view)


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
    except (jinja2.TemplateRuntimeError, MathError, RecursionError, OverflowError) as fault:
        file, line = _place(fault, name)
        raise FileProblems([_problem(file, line, _code(fault), str(fault))]) from fault


def _code(fault: Exception) -> str:
    if isinstance(fault, MathError):
        return "template-equation"
    return "template-undefined" if isinstance(fault, jinja2.UndefinedError) else "template-endless"


def _problem(file: str, line: int, code: str, message: str | None) -> Problem:
    fix = "mend the template, or remove it so that the project's own one is used"
    return Problem(file, line, 1 if line else 0, "", code, message or "the template cannot be rendered", fix)


def _place(fault: Exception, name: str) -> tuple[str, int]:
    """Deepest template frame of the traceback; Jinja maps its compiled lines back to the template's own."""
    frames = traceback.extract_tb(fault.__traceback__)
    found = [(frame.filename, frame.lineno or 0) for frame in frames if not frame.filename.endswith(".py")]
    return found[-1] if found else (name, 0)
