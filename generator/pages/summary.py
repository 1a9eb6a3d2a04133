"""A comparison in brief, as home, part pages, feed and structured data need it: a plain dict, ready for JSON."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Mapping
from typing import Any

from generator.pages.figures import format_stated
from generator.pages.labels import call_words, candidate_names, input_label, item_titles
from generator.pages.marks import drop_marks
from generator.pages.specification import source_text, tolerance_text
from generator.phrases import lead_text, measured_text

Row = Mapping[str, Any]
LONGEST_SLUG = 60


def summarise(results: Row) -> dict[str, Any]:
    """Slug, titles, dates, candidates, parts with their figures and results, corrections.

    Returns
    -------
    dict
        slug, title, question, answer, date, updated (date of the newest correction, else date), author, data, language,
        measured, candidates [{id, name, differs}], parts [{slug, name, candidate, candidate_name, figures, results}],
        corrections [{date, text}].
    """
    results = drop_marks(results)
    corrections = [{"date": entry["date"], "text": entry["text"]} for entry in results.get("corrections") or ()]
    names = candidate_names(results)
    candidates = results.get("candidates") or ()
    return {
        "slug": results["comparison"],
        "title": results.get("title") or results["comparison"],
        "question": results.get("question") or "",
        "answer": results.get("answer") or "",
        "date": results["date"],
        "updated": max([results["date"], *(entry["date"] for entry in corrections)]),
        "author": results.get("author") or "",
        "data": results.get("data") or "measured",
        "language": results.get("language") or "en",
        "measured": bool(results.get("measurements")),
        "candidates": [{"id": c["id"], "name": names[c["id"]], "differs": c.get("differs") or ""} for c in candidates],
        "parts": [_part(results, candidate, names) for candidate in candidates],
        "corrections": corrections,
    }


def _part(results: Row, candidate: Row, names: Mapping[str, str]) -> dict[str, Any]:
    name = str(candidate.get("motor_name") or names[candidate["id"]])
    rows = [row for row in results.get("inputs") or () if row["candidate"] == candidate["id"]]
    return {
        "slug": part_slug(name),
        "name": name,
        "candidate": candidate["id"],
        "candidate_name": names[candidate["id"]],
        "figures": [_figure(row) for row in rows if row["path"].startswith("motor.")],
        "results": _outcomes(results, candidate["id"], names),
    }


def part_slug(name: str) -> str:
    """Folder name of a part's page: names that differ in more than case, spaces, commas and hyphens get different ones.

    What a folder cannot bear is left out, with digits of the name's digest in its stead.
    """
    plain = name.casefold()
    letters = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")
    if re.fullmatch(r"[a-z0-9 ,-]+", plain) and 0 < len(slug) <= LONGEST_SLUG:
        return slug
    return f"{slug[:LONGEST_SLUG].strip('-') or 'part'}-{hashlib.sha256(plain.encode()).hexdigest()[:8]}"


def _figure(row: Row) -> dict[str, str]:
    return {
        "path": row["path"],
        "label": input_label(row["path"]),
        "value": format_stated(row.get("value"), row["unit"]),
        "tolerance": tolerance_text(row),
        "source": source_text(row),
    }


def _outcomes(results: Row, candidate: str, names: Mapping[str, str]) -> list[dict[str, Any]]:
    """What was measured of a candidate, with the calls it took part in."""
    titles = item_titles(results)
    found = []
    for row in results.get("measurements") or ():
        if row["candidate"] == candidate:
            found.append({
                "title": titles.get(row["item"], row["item"]),
                "measured": measured_text(row),
                "calls": [_call(each, names) for each in results.get("contrasts") or ()
                          if each["item"] == row["item"] and candidate in each["between"]],
            })  # fmt: skip
    return found


def _call(row: Row, names: Mapping[str, str]) -> str:
    first, second = (names.get(candidate, candidate) for candidate in row["between"])
    lead = lead_text(row)
    words = call_words(row, names)
    return f"{words}{lead}" if lead else f"{words} ({first} against {second})"
