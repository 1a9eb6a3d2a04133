"""General checkers over a whole built site: html-validate, the Nu HTML checker, Lighthouse, and our own link check.

Usage: python tests/checks/whole_site.py [--site DIR] [--tools DIR] [--no-lighthouse]

Without --site the comparisons that come with the project are built into a temporary folder. The checkers come from
the npm registry by name and version into --tools (default: the user's cache). Exit code 1 where one finds a fault.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from servers import find_port, nginx, serve
from site_links import check_links

ROOT = Path(__file__).parents[2]
PACKAGES = ("html-validate@9.0.0", "vnu-jar@26.9.27", "lighthouse@12.2.3")
LEAST = 0.99
"""Least score of each of Lighthouse's four categories."""
CATEGORIES = ("performance", "accessibility", "best-practices", "seo")
CHROME_FLAGS = "--headless --no-sandbox --disable-gpu --disable-quic"
NOT_FAULTS = ("violates Content Security Policy", "“vector-effect”: Property")
"""Nu takes a file's own folder for another origin and data blocks for scripts (tests/pages/test_browser.py lets a
browser judge the policy), and does not know that vector-effect is a style property (SVG 2, 8.13)."""
SKIPPED = "robots-txt"
"""Lighthouse asks for it from within the page, whose policy lets a page connect to nothing."""
SETTINGS = {"extends": ["html-validate:standard"], "rules": {"no-inline-style": "off", "long-title": "off"}}
"""html-validate's own standard set; charts set sizes inline, and titles carry the site's name."""


def main() -> int:
    """Run all checkers and print what each found."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--site", type=Path)
    parser.add_argument("--tools", type=Path, default=Path.home() / ".cache" / "stallmark-checks")
    parser.add_argument("--no-lighthouse", action="store_true")
    given = parser.parse_args()
    install(given.tools)
    with tempfile.TemporaryDirectory() as folder:
        site = given.site.resolve() if given.site else build_demo(Path(folder))
        found = {
            "links": check_links(site),
            "html-validate": run_html_validate(given.tools, site, Path(folder)),
            "Nu HTML checker": run_nu(given.tools, site),
        }
        if not given.no_lighthouse:
            found["Lighthouse"] = run_lighthouse(given.tools, site, Path(folder))
    for name, faults in found.items():
        print(f"{name}: {len(faults)} faults" if faults else f"{name}: no fault")
        for fault, count in Counter(faults).most_common():
            print(f"  {count} × {fault}")
    return 1 if any(found.values()) else 0


def install(tools: Path) -> None:
    """Bring the checkers once."""
    tools.mkdir(parents=True, exist_ok=True)
    noted = tools / "installed.txt"
    if not noted.is_file() or noted.read_text().split() != list(PACKAGES):
        options = ["--no-audit", "--no-fund", "--ignore-scripts", "--loglevel", "error"]
        subprocess.run(["npm", "install", "--prefix", str(tools), *options, *PACKAGES], check=True)
        noted.write_text("\n".join(PACKAGES))


def build_demo(folder: Path) -> Path:
    """The project's own comparisons as a site."""
    command = [sys.executable, "-m", "generator", "build", "--site", str(folder / "site"), "--quiet",
               "--address", "https://bench.example/motion/"]  # fmt: skip
    subprocess.run(command, cwd=ROOT, check=True)
    return folder / "site"


def run_html_validate(tools: Path, site: Path, folder: Path) -> list[str]:
    """Messages of html-validate over every page, as lines of text."""
    settings, report = folder / "html-validate.json", folder / "report.json"
    settings.write_text(json.dumps({"root": True, **SETTINGS}))
    command = [str(tools / "node_modules" / ".bin" / "html-validate"), "--config", str(settings),
               f"--formatter=json={report}", str(site)]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True)
    if not report.is_file():
        raise SystemExit(f"html-validate did not run: {done.stderr}{done.stdout}")
    pages = json.loads(report.read_text())
    return [
        f"{shorten(page['filePath'], site)}:{message['line']} {message['ruleId']}: {message['message']}"
        for page in pages
        for message in page["messages"]
    ]


def run_nu(tools: Path, site: Path) -> list[str]:
    """Errors and warnings of the Nu HTML checker over pages, style sheets and drawings."""
    jar = tools / "node_modules" / "vnu-jar" / "build" / "dist" / "vnu.jar"
    kinds = ["--also-check-css", "--also-check-svg", "--skip-non-html"]
    command = ["java", "-Xss4m", "-jar", str(jar), "--format", "json", "--exit-zero-always", *kinds, str(site)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    messages = json.loads(done.stderr or done.stdout)["messages"]
    serious = [one for one in messages if one["type"] == "error" or one.get("subType") == "warning"]
    serious = [one for one in serious if not any(words in one["message"] for words in NOT_FAULTS)]
    return [f"{shorten(one['url'], site)}: {one['message']}" for one in serious]


def run_lighthouse(tools: Path, site: Path, folder: Path) -> list[str]:
    """Categories below the least score on the home page and on the fullest comparison, with what cost points."""
    port = find_port()
    fullest = max((site / "comparisons").glob("*/index.html"), key=lambda path: path.stat().st_size)
    faults = []
    with serve(nginx(site, port, folder), port, folder) as address:
        for path in ("index.html", fullest.relative_to(site).as_posix()):
            report = folder / "lighthouse.json"
            program = str(tools / "node_modules" / ".bin" / "lighthouse")
            options = [f"--skip-audits={SKIPPED}", f"--chrome-flags={CHROME_FLAGS}", "--quiet"]
            command = [program, f"{address}/{path}", *options, "--output=json", f"--output-path={report}"]
            chromium = os.environ.get("CHROME_PATH", "/usr/bin/chromium")
            subprocess.run(command, env={**os.environ, "CHROME_PATH": chromium}, check=True)
            faults += judge(path, json.loads(report.read_text()))
    return faults


def judge(path: str, report: dict) -> list[str]:
    """Scores are printed; those below the least are faults."""
    scores = {name: report["categories"][name]["score"] for name in CATEGORIES}
    print(f"Lighthouse {report['lighthouseVersion']} {path}: {scores}")
    faults = []
    for name, score in scores.items():
        if score is None or score < LEAST:
            audits = report["categories"][name]["auditRefs"]
            lost = [a["id"] for a in audits if a["weight"] and (report["audits"][a["id"]]["score"] or 0) < 1]
            faults.append(f"{path}: {name} {score} ({', '.join(lost)})")
    return faults


def shorten(path: str, site: Path) -> str:
    """A page's kind: its folder with names of versions left out, so that like faults count together."""
    name = path.split(f"{site}/", 1)[-1]
    return name.rsplit("/", 1)[0] + "/*" if name.startswith("archive/") else name


if __name__ == "__main__":
    sys.exit(main())
