#!/usr/bin/env python3
"""The journal's page in a browser: no message on the console, no request, readable on a telephone and on paper, nothing that the
accessibility rules of axe-core call serious.

  tests/outside/page.py PAGE.html [AXE.js] [--out DIR]

Needs chromium (Debian package `chromium`). AXE.js is axe.min.js of the npm package axe-core; without it those rules are left
out, and said so. The browser is driven by its command line alone: a copy of the page without its policy, with a script that writes
what it finds into the page, is opened, and the page read back. Pictures at 360 pixels and the paper go to DIR.
"""

import argparse
import html
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

PROBE = """
<script>%s</script>
<script>
window.found = {errors: [], width: 0, wide: []};
window.addEventListener('error', event => window.found.errors.push(String(event.message)));
window.addEventListener('load', async () => {
  window.found.width = document.documentElement.scrollWidth;
  window.found.inner = window.innerWidth;
  for (const node of document.querySelectorAll('main *')) {
    if (node.getBoundingClientRect().right > window.innerWidth + 1 && !node.closest('thead')) window.found.wide.push(node.tagName);
  }
  window.found.requests = performance.getEntriesByType('resource').map(entry => entry.name);
  if (window.axe) {
    const told = await axe.run();
    window.found.axe = told.violations.map(fault => [fault.impact, fault.id, fault.nodes.length]);
    window.found.passes = told.passes.length;
  }
  const out = document.createElement('script');
  out.type = 'application/json';
  out.id = 'found';
  out.textContent = JSON.stringify(window.found);
  (window.parent === window ? document : parent.document).body.append(out);
});
</script>
"""


def browser(*arguments):
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser") or "chromium"
    with tempfile.TemporaryDirectory() as home:
        base = [program, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={home}", "--enable-logging=stderr", "--v=0",
                "--hide-scrollbars", "--virtual-time-budget=20000"]
        done = subprocess.run(base + list(arguments), capture_output=True, text=True, timeout=180, check=False)
    return done.stdout, done.stderr


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("page", type=pathlib.Path)
    parser.add_argument("axe", nargs="?", type=pathlib.Path)
    parser.add_argument("--out", type=pathlib.Path, default=pathlib.Path("target/outside-page"))
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    text, faults = options.page.read_text(encoding="utf-8"), []
    address = options.page.resolve().as_uri()
    _, told = browser(f"--screenshot={options.out}/desk.png", "--window-size=1000,1800", address)
    faults += [line for line in told.splitlines() if "CONSOLE" in line]
    browser(f"--print-to-pdf={options.out}/paper.pdf", "--no-pdf-header-footer", address)
    axe = options.axe.read_text(encoding="utf-8") if options.axe else ""
    bare = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    # The browser makes no window narrower than 500 pixels; a frame may be.
    probed = html.escape(bare.replace("</body>", PROBE % axe + "</body>"), quote=True)
    frame = f'<!doctype html><html lang="en"><title>frame</title><body style="margin:0"><iframe title="page" width="360" height="4000" ' \
        f'style="border:0" srcdoc="{probed}"></iframe></body></html>'
    outer = options.out / "framed.html"
    outer.write_text(frame, encoding="utf-8")
    out, told = browser("--dump-dom", "--window-size=600,4000", outer.resolve().as_uri())
    browser(f"--screenshot={options.out}/telephone.png", "--window-size=500,3200", outer.resolve().as_uri())
    faults += [line for line in told.splitlines() if "CONSOLE" in line]
    found = re.search(r'id="found">(.*?)</script>', out, re.S)
    if not found:
        print("the browser told nothing", told[-800:])
        return 1
    found = json.loads(found[1])
    print(json.dumps(found, indent=1))
    faults += found["errors"] + [f"request: {name}" for name in found["requests"] if not name.startswith("data:")]
    faults += [f"wider than the screen: {name}" for name in found["wide"]]
    faults += [f"axe: {fault}" for fault in found.get("axe", []) if fault[0] in ("serious", "critical")]
    if not options.axe:
        print("axe-core was not given: its rules were NOT tried")
    print(*faults, sep="\n")
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main())
