"""Structured data for finders: schema.org Dataset and TechArticle as JSON-LD."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.context import Context

SCHEMA = "https://schema.org"


def describe_comparison(summary: Mapping[str, Any], context: Context) -> list[dict[str, Any]]:
    """An article and the data set that it rests on; addresses only where the site has one."""
    path = f"comparisons/{summary['slug']}/"
    page = context.absolute(path)
    shared: dict[str, Any] = {
        "@context": SCHEMA,
        "inLanguage": summary["language"],
        "datePublished": summary["date"],
        "dateModified": summary["updated"],
    }
    if summary["author"]:
        shared["author"] = {"@type": "Organization", "name": summary["author"]}
    if context.site.owner:
        shared["publisher"] = {"@type": "Organization", "name": context.site.owner}
    described = summary["answer"] or summary["question"] or summary["title"]
    if summary["data"] == "invented":
        described = f"Invented data, made to show how a report works. {described}"
    article = {"@type": "TechArticle", "headline": summary["title"], "abstract": described}
    data = {"@type": "Dataset", "name": f"Data of: {summary['title']}", "description": described}
    if context.site.licence:
        article["license"] = context.site.licence
    if context.site.data_licence:
        data["license"] = context.site.data_licence
    if page is not None:
        article |= {"@id": page, "url": page}
        data |= {"@id": f"{page}#data", "url": page, "distribution": _distribution(context, path)}
    return [shared | article, shared | data]


def _distribution(context: Context, path: str) -> list[dict[str, Any]]:
    return [
        {
            "@type": "DataDownload",
            "encodingFormat": "application/json",
            "contentUrl": context.absolute(path + "results.json"),
        }
    ]


def describe_site(context: Context) -> list[dict[str, Any]]:
    """The site itself."""
    found: dict[str, Any] = {"@context": SCHEMA, "@type": "WebSite", "name": context.site.name}
    if context.site.about:
        found["description"] = context.site.about
    if address := context.absolute(""):
        found["url"] = address
    return [found]
