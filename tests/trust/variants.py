#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Random variants of real files, adapted for random machines and judged by the reference.

    variants.py BUILD FILE... [--count 200] [--seed 1] [--keep FOLDER]

Each variant is a piece of a FILE cut at random lines, mirrored, turned, scaled, its E and its speeds
scaled, in inches, with other line ends, its retracts as G10 and G11; each machine has its own lag,
limits, feed and corner rule. Told is what is refused, crashes, breaks a promise, takes more than two
minutes or is worse than with its flow set right. With --keep such a variant and its profile stay in
FOLDER. Exit status 1: some.
"""
import argparse
import math
import os
import pathlib
import random
import re
import subprocess
import sys
import tempfile

WORD = re.compile(r"([A-Z])\s*(-?\d*\.?\d+)")
STATE = re.compile(r"(G2[01]|G9[01]|M8[23]|M10[49]|M20[0145]|M22[01])\b")
MOTION = re.compile(r"\s*G(0|1|2|3|92)\b")
SECONDS = 120


def log_uniform(r, low, high):
    return math.exp(r.uniform(math.log(low), math.log(high)))


def state_before(lines):
    """Lines that bring a printer to where it is behind `lines`."""
    state = [line.split(";")[0].strip() for line in lines if STATE.match(line)][-40:]
    counts_on, last = True, {}
    for line in lines:
        code = line.split(";")[0].strip()
        counts_on = {"M82": True, "M83": False}.get(code, counts_on)
        if MOTION.match(code):
            last.update({k: v for k, v in WORD.findall(code) if k in "XYZEF"})
    place = [f"{k}{last[k]}" for k in "XYZ" if k in last]
    if place:
        state.append(" ".join(["G1", *place, f"F{last.get('F', 1800)}"]))
    if counts_on and "E" in last:
        state.append(f"G92 E{last['E']}")
    return state


class Geometry:
    """What becomes of the words of a motion line."""

    def __init__(self, r, may_be_inches):
        self.scale = r.choice([1, 1, r.uniform(0.3, 3)])
        self.mirror, self.turn = r.random() < 0.3, r.random() < 0.3
        self.e_scale = r.choice([1, 1, r.uniform(0.4, 2)])
        self.f_scale = r.choice([1, 1, r.uniform(0.2, 3)])
        self.inches = r.random() < 0.15 and may_be_inches
        self.unit = 1 / 25.4 if self.inches else 1
        self.digits = 6 if self.inches else 5

    def word(self, match):
        letter, value = match.group(1), float(match.group(2))
        turned = {"X": "Y", "Y": "X", "I": "J", "J": "I"}
        factor = {"R": self.scale, "E": self.scale * self.e_scale, "Z": 1.0}.get(letter, self.scale)
        if letter in "XI" and self.mirror:
            factor = -factor
        if letter in turned:
            name = turned[letter] if self.turn else letter
            return f"{name}{value * factor * self.unit:.{self.digits}f}"
        if letter in "RZE":
            return f"{letter}{value * factor * self.unit:.{self.digits}f}"
        if letter == "F":
            return f"F{value * self.f_scale * self.unit:.4f}"
        return match.group(0)

    def line(self, line):
        code, mark, comment = line.partition(";")
        if not MOTION.match(code):
            return line
        code = WORD.sub(self.word, code)
        if self.mirror != self.turn:  # arcs go the other way round
            code = re.sub(r"G([23])\b", lambda m: "G" + {"2": "3", "3": "2"}[m.group(1)], code)
        return code + mark + comment


def with_bare_retracts(r, lines, unit):
    """Moves of E alone become G10 and G11, often of a length that the file tells."""
    told = f"M207 S{r.uniform(0.2, 3) * unit:.5f} F{r.uniform(600, 3000) * unit:.3f}"
    out, drawn_back, counts_on, last = ([told] if r.random() < 0.8 else []), False, True, 0.0
    for line in lines:
        code = line.split(";")[0].strip()
        counts_on = {"M82": True, "M83": False}.get(code, counts_on)
        words = dict(WORD.findall(code)) if MOTION.match(code) else {}
        back = float(words.get("E", 0)) < (last if counts_on else 0)
        last = float(words.get("E", last))
        alone = "E" in words and set(words) <= set("GEF") and words["G"] in ("0", "1")
        if alone and back != drawn_back:
            drawn_back = back
            line = "G10" if back else "G11"
        out.append(line)
    return out


def variant(r, lines):
    length = int(log_uniform(r, 30, r.choice([1500] * 6 + [15000])))
    start = r.randrange(max(1, len(lines) - length))
    text = ["M104 S205", "M109 S205", *state_before(lines[:start]), *lines[start : start + length]]
    fixed_units = any(re.search(r"\b(G2[01]|M20[0-9])\b", line) for line in text)
    geometry = Geometry(r, not fixed_units)
    text = (["G20"] if geometry.inches else []) + [geometry.line(line) for line in text]
    if r.random() < 0.15:
        text = text[:1] + with_bare_retracts(r, text[1:], geometry.unit)
    return r.choice(["\n"] * 9 + ["\r\n"]).join(text) + "\n"


def machine(r):
    def some(share, line):
        return [line] if r.random() < share else []

    jump = r.choice([10, r.uniform(1, 20)])
    rounding = r.random() < 0.15
    return "\n".join([
        'title = "variant"', "[feed]",
        f"slicer_diameter_mm = {r.choice([1.75, 1.75, 2.85])}",
        f"delivered_factor = {r.choice([1.0, 0.91, round(r.uniform(0.7, 1.2), 3)])}",
        *some(0.15, f"backlash_mm = {r.uniform(0, 0.3):.3f}"),
        *some(0.15, f"reverse_factor = {r.uniform(0.6, 1):.3f}"),
        "[lag]",
        f"run_on_mm3 = {log_uniform(r, 0.05, 15):.4f}",
        f"at_flow_mm3_s = {r.choice([5, r.uniform(1, 10)]):.3f}",
        f"flow_index = {r.choice([1, 1, 0.5, r.uniform(0.3, 1)]):.3f}",
        *some(0.1, f"leak_per_s = {r.uniform(0, 0.3):.3f}"),
        "[machine]",
        f"acceleration_mm_s2 = {r.choice([800, r.uniform(100, 5000)]):.0f}",
        *some(0.5, f"travel_acceleration_mm_s2 = {r.choice([1000, r.uniform(200, 5000)]):.0f}"),
        *some(0.3, f"retract_acceleration_mm_s2 = {r.uniform(200, 5000):.0f}"),
        'corner_rule = "rounding"' if rounding else 'corner_rule = "jump"',
        *([f"corner_rounding_mm = {r.uniform(0.005, 0.2):.4f}"] if rounding else []),
        f"corner_jump_mm_s = {{ x = {jump:.2f}, y = {jump:.2f}, z = 0.4, e = {r.choice([5, r.uniform(0.5, 10)]):.2f} }}",
        f"max_speed_mm_s = {{ x = {r.choice([300, r.uniform(50, 500)]):.0f}, y = 300, z = {r.choice([20, 5])}, "
        f"e = {r.choice([60, r.uniform(15, 120)]):.1f} }}",
        f"max_acceleration_mm_s2 = {{ x = 9000, y = {r.choice([9000, 1500])}, z = {r.choice([500, 100])}, "
        f"e = {r.choice([5000, r.uniform(500, 10000)]):.0f} }}",
        *some(0.15, "stops_halt = true"),
        "[limits]",
        *some(0.8, f"max_flow_mm3_s = {log_uniform(r, 2, 30):.3f}"),
        *some(0.4, f"burst_mm3 = {r.uniform(0, 3):.3f}"),
        "cold_below_c = 170", ""])


def run(command):
    try:
        return subprocess.run(command, capture_output=True, text=True, errors="replace", timeout=SECONDS)
    except subprocess.TimeoutExpired:
        return None


def first_words(text):
    return " | ".join(text.strip().splitlines()[-3:])[:300]


def try_one(build, gcode, profile, out, options):
    """What is wrong, or None; and the share of flow set right that is left, or None."""
    done = run([f"{build}/meltlag", "adapt", gcode, "--profile", profile, "--output", out, "--force", *options])
    if done is None:
        return "adapt takes more than two minutes", None
    if done.returncode != 0:
        no_moves = "no G-code" in done.stderr
        return (None if no_moves else f"adapt {done.returncode}: {first_words(done.stderr)}"), None
    judged = run([f"{build}/tests/reference/judge", gcode, out, "--profile", profile, "--invariants",
                  *(["--extra-time", "0.1"] if "--extra-time" in options else [])])
    if judged is None:
        return "judging takes more than two minutes", None
    if judged.returncode != 0:
        broken = [line for line in judged.stdout.splitlines() if line.startswith("violation:")]
        return f"judge: {(broken or [first_words(judged.stderr)])[0]}", None
    found = re.search(r"misplaced_percent\s+\S+\s+(\S+)\s+(\S+)", judged.stdout)
    right, adapted = map(float, found.groups())
    if adapted > 1.002 * right + 0.01:
        return f"{adapted} % misplaced, {right} % with the flow set right", None
    return None, adapted / right if right > 0 else None


def main():
    parser = argparse.ArgumentParser(usage=__doc__)
    parser.add_argument("build")
    parser.add_argument("files", nargs="+")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep")
    asked = parser.parse_args()
    texts = {f: pathlib.Path(f).read_text(errors="replace").splitlines() for f in asked.files}
    wrong, shares = 0, []
    with tempfile.TemporaryDirectory() as scratch:
        gcode, profile, out = (os.path.join(scratch, name) for name in ("v.gcode", "v.toml", "a.gcode"))
        for i in range(asked.count):
            r = random.Random(asked.seed * 100_000 + i)
            name = r.choice(sorted(texts))
            with open(gcode, "w", newline="", encoding="utf-8") as file:
                file.write(variant(r, texts[name]))
            pathlib.Path(profile).write_text(machine(r), encoding="utf-8")
            options = r.choice([[], [], [], [], [], ["--fastest"], ["--extra-time", "10%"]])
            fault, share = try_one(asked.build, gcode, profile, out, options)
            if share is not None:
                shares.append(share)
            if fault is None:
                continue
            wrong += 1
            print(f"{i} {os.path.basename(name)} {' '.join(options)}: {fault}", flush=True)
            if asked.keep:
                os.makedirs(asked.keep, exist_ok=True)
                for path in (gcode, profile):
                    kept = os.path.join(asked.keep, f"{asked.seed}-{i}{pathlib.Path(path).suffix}")
                    pathlib.Path(kept).write_bytes(pathlib.Path(path).read_bytes())
    middle = sorted(shares)[len(shares) // 2] if shares else float("nan")
    print(f"{asked.count} variants, {wrong} wrong; of what flow set right misplaces {middle:.3f} is left (median)")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
