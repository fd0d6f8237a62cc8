# SPDX-License-Identifier: MIT
"""numbers.py PAGE JSON: the page is well-formed, fetches nothing, and every number that it says comes
from --json agrees with it to the digits shown. Prints how many numbers it compared."""
import json
import re
import sys
from html.parser import HTMLParser

VOID = {"meta", "br", "link", "input", "img", "hr"}


class Page(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.faults, self.values, self.key = [], [], [], None

    def handle_starttag(self, tag, attributes):
        for name, value in attributes:
            if name in ("src", "href", "action", "data", "srcset") and not (value or "").startswith("#"):
                self.faults.append(f"<{tag} {name}={value!r}> may fetch something")
            if name.startswith("on"):
                self.faults.append(f"<{tag} {name}> holds a script")
            if name == "data-json":
                self.key = value
                self.values.append([value, ""])
        if tag in ("link", "iframe", "img", "object", "embed", "base"):
            self.faults.append(f"<{tag}> has no place here")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> closes {self.open[-1:]}")
        else:
            self.open.pop()
        self.key = None

    def handle_data(self, data):
        if self.key:
            self.values[-1][1] += data


def seconds(text):
    units = {"h": 3600, "min": 60, "s": 1}
    return sum(float(n) * units[u] for n, u in re.findall(r"([\d.]+) (h|min|s)\b", text))


def agrees(key, text, value):
    if text == "none":
        return value == 0
    if key.endswith("planned_s") or re.search(r"\d (h|min)\b", text):
        return abs(seconds(text) - value) <= (30 if " h " in text else 0.51)
    number = re.match(r"[+-]?[\d.]+", text).group()
    decimals = len(number.partition(".")[2])
    if "%" in text:
        value *= 100
    if text.endswith(" ms"):
        value *= 1000
    return abs(float(number) - value) <= 0.5000001 * 10**-decimals


text = open(sys.argv[1], encoding="utf-8").read()
page = Page()
page.feed(text)
page.close()
faults = page.faults + [f"<{tag}> is not closed" for tag in page.open]
whole = json.load(open(sys.argv[2], encoding="utf-8"))
for key, shown in page.values:
    value = whole
    for part in key.split("."):
        value = value[int(part) if isinstance(value, list) else part]
    if not agrees(key, shown, value):
        faults.append(f"{key}: the page says {shown}, the table {value}")
for fault in faults:
    print(fault, file=sys.stderr)
print(len(page.values))
sys.exit(1 if faults else 0)
