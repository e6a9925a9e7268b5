"""Pages opened in headless chromium: what a browser finds wrong with them, and how large they come out.

One browser opens them all, one after another (`one_browser.py`), save where a switch of its start is the question.
Nothing is installed here: `apt-get install chromium`, and `npm --prefix tests/browser ci` for axe-core. Where one of
them is missing the tests are skipped with the reason, unless CI=true, and then they fail.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from one_browser import browser

AXE = Path(os.environ.get("DERATE_AXE", Path(__file__).parents[1] / "browser/node_modules/axe-core/axe.min.js"))
_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>')
_WATCH = """<script>
const told = [];
for (const name of ["error", "warn"]) {
  const own = console[name]; console[name] = (...said) => { told.push(said.join(" ")); own(...said); };
}
addEventListener("error", event => told.push("error: " + (event.message || event.target.outerHTML)), true);
</script>"""
_ASK = """<script>
addEventListener("load", async () => {
  const root = document.documentElement, wide = innerWidth;
  const out = {
    told, wide, over: root.scrollWidth - wide,
    loaded: performance.getEntriesByType("resource").map(one => one.name),
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    ground: getComputedStyle(document.body).backgroundColor,
    foot: ASKED.map(name => {
      const at = document.querySelector(name); return at ? at.getBoundingClientRect().bottom : null;
    }),
  };
  if (window.axe) {
    const found = await axe.run(document, {resultTypes: ["violations"]});
    out.axe = found.violations.map(one => ({
      id: one.id, impact: one.impact, nodes: one.nodes.slice(0, 3).map(node => node.html.slice(0, 200)),
    }));
  }
  const pre = document.createElement("pre"); pre.id = "result"; pre.textContent = JSON.stringify(out);
  document.body.replaceChildren(pre);
});
</script>"""


def chromium() -> str:
    """The browser, or the test ends here."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    return _missing("chromium is not installed: apt-get install chromium")


def axe_source() -> str:
    """axe-core as text, or the test ends here."""
    if AXE.is_file():
        return AXE.read_text(encoding="utf-8")
    return _missing("axe-core is not installed: npm --prefix tests/browser ci")


def _missing(why: str) -> str:
    if os.environ.get("CI") == "true":
        pytest.fail(why)
    pytest.skip(why)


def _run(folder: Path, *arguments: str, page: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [chromium(), "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-extensions",
         f"--user-data-dir={folder / 'profile'}", *arguments, page.as_uri()],
        capture_output=True, text=True, timeout=180,
    )  # fmt: skip


def looked_at(
    text: str, folder: Path, width: int = 1280, height: int = 800, dark: bool = False, axe: bool = False,
    ask: tuple[str, ...] = (),
) -> dict[str, Any]:
    """A page opened: console errors, what was loaded, overflow [pixels], axe's violations, foot of the elements asked.

    A frame of this size is put round the page, because a window of a browser has a least width. The page's own policy
    against scripts is taken out of the copy, as the questions are a script; `shown` keeps it.
    """
    questions = _ASK.replace("ASKED", json.dumps(list(ask)))
    tool = f"<script>{axe_source()}</script>" if axe else ""
    copy = _POLICY.sub("", text, count=1).replace("<head>", f"<head>{_WATCH}", 1)
    copy = copy.replace("</body>", f"{tool}{questions}</body>", 1)
    inner, outer = folder / "page.html", folder / "frame.html"
    inner.write_text(copy, encoding="utf-8")
    outer.write_text(
        "<!doctype html><title>frame</title><style>body{margin:0}iframe{border:0;display:block}</style>"
        f'<iframe id="f" src="page.html" width="{width}" height="{height}"></iframe>'
        '<script>const f=document.getElementById("f");const t=setInterval(()=>{const r=f.contentDocument&&'
        'f.contentDocument.getElementById("result");if(r){clearInterval(t);document.title="done";'
        "document.body.replaceChildren(r)}},50)</script>",
        encoding="utf-8",
    )
    answer: dict[str, Any] = _result(browser(chromium()).text_of(outer.as_uri(), max(width, 600), height, dark))
    return answer


def _result(text: str) -> Any:
    """What a page left behind of its answer."""
    found = re.search(r'<pre id="result">(.*?)</pre>', text, re.DOTALL)
    assert found, text[:400]
    return json.loads(html.unescape(found[1]))


def shown(text: str, folder: Path, scripts: bool = True, width: int = 1280, height: int = 3000) -> bytes:
    """A picture of the page as it is [PNG]; nothing may stand in the console."""
    page, picture = folder / "as-it-is.html", folder / "as-it-is.png"
    page.write_text(text, encoding="utf-8")
    without = [] if scripts else ["--blink-settings=scriptEnabled=false"]
    done = _run(folder, *without, "--enable-logging=stderr", f"--window-size={width},{height}",
                f"--screenshot={picture}", page=page)  # fmt: skip
    console = [line for line in done.stderr.split("\n") if "CONSOLE" in line]
    assert not console, console
    return picture.read_bytes()


def requests_of(text: str, folder: Path) -> list[str]:
    """Addresses that the page as it is made the browser ask for; what the browser asks by itself is no page's doing."""
    page, log = folder / "asked.html", folder / "net.json"
    page.write_text(text, encoding="utf-8")
    _run(folder, f"--log-net-log={log}", f"--screenshot={folder / 'asked.png'}", page=page)
    asked = set()
    for line in log.read_text(encoding="utf-8").split("\n"):
        found = re.search(r'"url":"([a-z]+:[^"]*)"', line)
        if found and '"initiator":' in line and '"initiator":"not an origin"' not in line:
            asked.add(found[1])
    return sorted(asked)


def driven(pages: dict[str, str], folder: Path, script: str, width: int = 360, height: int = 800) -> Any:
    """What a script comes to that uses pages as a person would, all of them by one.

    pages: name and text. The pages keep their own policy: the script stands in a frame round them. It is the body of an
    asynchronous function with `open(name)`, which loads a page and gives its document, and `settle()`, a short wait.
    """
    for name, text in pages.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    outer = folder / "driver.html"
    outer.write_text(
        "<!doctype html><meta charset=utf-8><title>driver</title><style>body{margin:0}iframe{border:0}</style>"
        f'<iframe id="f" width="{width}" height="{height}"></iframe><script>'
        "const f=document.getElementById('f'),settle=()=>new Promise(done=>setTimeout(done,30));"
        "const open=name=>new Promise(done=>{f.onload=()=>done(f.contentDocument);f.src=name+'.html?'+Math.random()});"
        f"(async()=>{{{script}}})().catch(error=>({{failed:String(error.stack)}})).then(found=>{{"
        "const pre=document.createElement('pre');pre.id='result';pre.textContent=JSON.stringify(found);"
        "document.body.replaceChildren(pre)})</script>",
        encoding="utf-8",
    )
    return _result(browser(chromium()).text_of(outer.as_uri(), max(width, 600), height))


def printed_pages(text: str, folder: Path) -> int:
    """How many pages it prints on."""
    page = folder / "printed.html"
    page.write_text(text, encoding="utf-8")
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", browser(chromium()).printed(page.as_uri())))
