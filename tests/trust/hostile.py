"""A comparison whose every free text is an attempt: markup, script, formulas, notations, long words."""

from __future__ import annotations

import io
import json
import wave
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import numpy as np
from PIL import Image

from generator.readers.limits import Limits

FEW = Limits(draws=200)
"""Enough draws where figures are not looked at."""
MARK = "evilmark"
"""Stands in every attempt that would run or load something, so that it is found wherever it comes out."""

ATTEMPTS = (
    f"<script>alert('{MARK}')</script>",
    f'"><img src=x onerror=alert("{MARK}")>',
    f"'><svg/onload=alert('{MARK}')>",
    f"javascript:alert('{MARK}')",
    f"]]>--><!--<a href=javascript:{MARK}>",
    f"</script><script>{MARK}</script>",
    f"</title></style></textarea></svg><script>{MARK}</script>",
    "{{7*7}} {{ ''.__class__ }} {% raw %}{% endraw %} ${7*7} #{7*7}",
    f'=HYPERLINK("https://{MARK}.example/","x")',
    "+1+1 and @SUM(1)",
    "-2+3 as a title",
    r"$\frac{1}{ $x^{$ \alpha_{",
    "%0d%0aSet-Cookie: a=b %2e%2e%2f %s %(x)s {0} {x}",
    "w" * 300,
    f"&lt;script&gt;{MARK}&lt;/script&gt; &#60;b&#62; \\u003cscript\\u003e",
    "{value: nothing} {figure: nothing} \\{value: x\\}",
    f"` ** _ [link](javascript:{MARK}) ![p](x) <b",
    "مقارنة המנוע e\u0301\u0301\u0301 \u200b👩‍🔧 ﷽",
    f"x' autofocus onfocus=alert(`{MARK}`) y='",
)

SITE = """\
name: §
about: §
owner: §
contact: §
licence: §
data_licence: §
"""

COMPARISON = """\
schema: 1
title: §
question: §
date: 2026-09-18
author: §
language: en
data: invented
write_up: "{story}"
interests: §
corrections: [{date: 2026-09-19, text: §}]
bench:
  operator: §
  authorised_by: §
  laboratory: §
  address: §
  place: §
  customer: §
  report_number: §
  method: §
  method_of_detection: §
  sampling: §
  position: §
  deviations: §
  external_providers: §
instruments: [{id: meter, what: §, serial: §, checked_on: 2026-08-01, uncertainty: §}]
common:
  machine:
    axes: {x: {moving_mass: 420 g, travel: 250 mm, friction: 2.5 N}}
    transmission: {name: §, belt_pitch: 2 mm, pulley_teeth: 20, efficiency: 94 %, belt_stiffness: 60 N/mm}
  supply: {name: §, voltage: 24 V, sources: {voltage: §}}
  drive: {name: §, peak_current: 1.5 A, sources: {peak_current: §}}
candidates:
  - id: short
    name: §
    item: {obtained: §, price: 21.50, currency: §, units_tested: 1, condition: §}
    motor: {name: §, wiring: §, step_angle: 1.8 deg, holding_torque: 0.26 N·m, rated_current: 1.5 A,
      resistance: 1.5 ohm, inductance: 2.3 mH, rotor_inertia: 38 g·cm²,
      sources: {holding_torque: §, inductance: §}, tolerance: {inductance: 5 %}}
  - id: long
    name: §
    motor: {name: §, wiring: §, step_angle: 1.8 deg, holding_torque: 0.45 N·m, rated_current: 1.5 A,
      resistance: 2.2 ohm, inductance: 4.6 mH, rotor_inertia: 68 g·cm²}
trials:
  - id: start-300
    measures: acceleration
    direction: {x: 1}
    speed: 300 mm/s
    stroke: 120 mm
    ladder: {start: 10 m/s², rung: 1 m/s², stop: 100 m/s²}
    note: §
    runs:
      short:
        - {held: 28 m/s², lost: 29 m/s², order: 1, time: §, note: §}
        - {held: 29 m/s², lost: 30 m/s², order: 3, time: §, note: §}
      long: "{runs}"
sound:
  - id: hum
    direction: {x: 1}
    speed: 100 mm/s
    microphone: {instrument: meter, calibration: {full_scale: 118 dB}}
    recordings: {short: ["{wave}"], long: ["{wave}"]}
vibration:
  - id: along-x
    axis: x
    excitation: sweep
    columns: {time: "{time} [s]", acceleration: "{acceleration} [m/s²]"}
    traces: {short: "{trace}", long: "{trace}"}
surfaces:
  - id: plate
    direction: {x: 1}
    scale: {pixels: 200, length: 20 mm}
    bands: {first_speed: 20 mm/s, speed_step: 20 mm/s, height: 5 mm, count: 3, first: bottom}
    along: horizontal
    photos: {short: "{photo}", long: "{photo}"}
    alt: {short: §, long: §}
panel: [{id: smoother, surface: plate, pairs: [{between: [short, long], votes: [7, 9], no_preference: 4}]}]
"""

FILES = {
    "{story}": "x'onload=a;&amp;%0d%0a.md",
    "{runs}": "runs/=cmd{{7+7}}$(id).csv",
    "{wave}": "a'&#39;%2e%2e%2f.wav",
    "{trace}": "$x^{$.csv",
    "{photo}": "-rf --x=`id`.png",
    "{time}": "<b onclick=x>t",
    "{acceleration}": "a'&amp;",
}
"""File names with everything that a safe file name may still hold, and headers of columns."""

STORY = f"""\
First words {ATTEMPTS[7]} {ATTEMPTS[8]} {ATTEMPTS[11]} {ATTEMPTS[12]}

{ATTEMPTS[13]}

## {ATTEMPTS[14]} `code` {ATTEMPTS[15][:0]}

&#106;avascript:{MARK} [safe](https://example.org/?a="onclick=x) `<script>{MARK}</script>`

```
<script>{MARK}</script> {{value: x}}
```

<div class="x"><details open><summary>s</summary><b style="position:fixed">b</b></details></div>

| a | =1+1 |
|---|---|
| `]]>` | <u>u</u> |
"""


def write_folder(root: Path, note: str = "") -> Path:
    """The hostile comparison in ``root``/evil, beside a hostile site.yaml; note is a trial's last line."""
    folder = root / "evil"
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    attempts = cycle(ATTEMPTS)
    (root / "site.yaml").write_text(_fill(SITE, attempts), encoding="utf-8")
    text = _fill(COMPARISON, attempts)
    for name, file in FILES.items():
        text = text.replace(name, file)
    if note:
        text += f"matters: {{items: {{start-300: 1 m/s²}}}}\nweights: {{start-300: 2}}  # {note}\n"
    (folder / "comparison.yaml").write_text(text, encoding="utf-8")
    (folder / FILES["{story}"]).write_text(STORY, encoding="utf-8")
    (folder / FILES["{runs}"]).write_text(_runs(), encoding="utf-8")
    (folder / FILES["{wave}"]).write_bytes(make_wave())
    (folder / FILES["{trace}"]).write_text(_trace(), encoding="utf-8")
    (folder / FILES["{photo}"]).write_bytes(make_photo())
    _write_templates(folder)
    return folder


def _fill(text: str, attempts: Iterator[str]) -> str:
    """Each § replaced by the next attempt, as a quoted text of YAML."""
    first, *rest = text.split("§")
    return first + "".join(json.dumps(next(attempts), ensure_ascii=False) + part for part in rest)


def _runs() -> str:
    rows = ["held [m/s²],lost [m/s²],stopped,order,time,note"]
    for number, attempt in enumerate(attempt for attempt in ATTEMPTS if attempt[0] not in "=+-@"):
        quoted = attempt.replace('"', '""')
        rows.append(f'{42 + number % 3},{43 + number % 3},,{2 * number + 2},"{quoted}","{quoted}"')
    return "\n".join(rows) + "\n"


def _trace() -> str:
    time = np.arange(2000) / 1000
    values = np.sin(2 * np.pi * 60 * time) * np.exp(-3 * time) + np.random.default_rng(1).normal(0, 0.05, 2000)
    header = f"{FILES['{time}']} [s],{FILES['{acceleration}']} [m/s²]\n"
    return header + "".join(f"{t:.4f},{a:.5f}\n" for t, a in zip(time, values, strict=True))


def make_wave() -> bytes:
    """Two seconds of a tone in noise."""
    time = np.arange(16_000) / 8000
    values = 0.2 * np.sin(2 * np.pi * 440 * time) + np.random.default_rng(2).normal(0, 0.02, 16_000)
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes((values * 32767).astype("<i2").tobytes())
    return buffer.getvalue()


def make_photo() -> bytes:
    """Three bands of fine lines, grey with some noise."""
    columns = 128 + 40 * np.sin(2 * np.pi * np.arange(600) / 12)
    pixels = np.tile(columns, (160, 1)) + np.random.default_rng(3).normal(0, 4, (160, 600))
    buffer = io.BytesIO()
    Image.fromarray(pixels.clip(0, 255).astype(np.uint8)).save(buffer, "PNG")
    return buffer.getvalue()


def _write_templates(folder: Path) -> None:
    """Files named like the project's templates, which must never be read from a comparison's folder."""
    for name in ("base.html", "comparison.html", "templates/base.html", "templates/comparison.html"):
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"<script>{MARK}-template</script>{{{{ ''.__class__.__mro__ }}}}", encoding="utf-8")
