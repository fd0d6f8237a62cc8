#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Hostile files of growing size: time may grow with the length, no faster, and memory not at all.

    nasty.py PROGRAM [--sizes 0.02,0.2] [--commands inspect,adapt,pace] [--only NAME]

Prints seconds and MiB for each kind, command and size; pace is adapt with --extra-time. It is a fault where ten times the file takes
more than fifteen times as long (plus two seconds), where a run is killed, or ends with any status
other than 0 and 1.
"""
import argparse, os, resource, shutil, subprocess, sys, tempfile

HEAD = b"G21\nG90\nM83\nM109 S205\nG0 X10 Y10 F4800\n"
PROFILE = b"""[lag]
run_on_mm3 = 5
at_flow_mm3_s = 5
flow_index = 0.6
[machine]
acceleration_mm_s2 = 800
corner_rule = "jump"
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }
[limits]
max_flow_mm3_s = 15
"""


def fill(size, line):
    """Lines made by line(number) until there is enough."""
    yield HEAD
    total, number = len(HEAD), 0
    while total < size:
        text = line(number)
        yield text
        total += len(text)
        number += 1


def long(size, begin, text, end=b"\n"):
    """One line of `text` again and again."""
    block = text * 4096
    yield HEAD + begin
    for _ in range(max(1, size // len(block))):
        yield block
    yield end


KINDS = {
    "one comment": lambda n: long(n, b";", b"x"),
    "one unreadable line": lambda n: long(n, b"", b"?"),
    "one line of words": lambda n: long(n, b"G1", b" X1"),
    "one number": lambda n: long(n, b"G1 X0.", b"1"),
    "open brackets": lambda n: long(n, b"", b"("),
    "bracket lines": lambda n: fill(n, lambda i: b"(((((((((((((((\n"),
    "returns only": lambda n: fill(n, lambda i: b"\r"),
    "empty lines": lambda n: fill(n, lambda i: b"\n"),
    "numbered, wrong sums": lambda n: fill(n, lambda i: b"N%d G1 X%d E.1*99\n" % (i, i % 200)),
    "macros of new names": lambda n: fill(n, lambda i: b"MACRO_%d\n" % i),
    "counts put back": lambda n: fill(n, lambda i: b"G92 E0\n"),
    "settings": lambda n: fill(n, lambda i: b"M204 S%d\nM205 X%d\n" % (500 + i % 9, 5 + i % 5)),
    "dwells": lambda n: fill(n, lambda i: b"G4 P1\nG1 X%d E.1\n" % (10 + i % 2)),
    "tool changes": lambda n: fill(n, lambda i: b"T%d\nG1 X%d E.1\n" % (i % 2, 10 + i % 2)),
    "screw to and fro": lambda n: fill(n, lambda i: b"G1 E-1\nG1 E1\n"),
    "debts never repaid": lambda n: fill(n, lambda i: b"G1 X%d E-.5\n" % (10 + i % 2)),
    "microns": lambda n: fill(n, lambda i: b"G1 X%.3f E.0001\n" % (10 + .001 * (i % 9000))),
    "travels": lambda n: fill(n, lambda i: b"G0 X%d\n" % (10 + i % 150)),
    "no stop": lambda n: fill(n, lambda i: b"G1 X%.2f E.004\n" % (10 + .1 * (i % 1000))),
    "full circles": lambda n: fill(n, lambda i: b"G2 I1 J0 E.2\n"),
    "longest moves": lambda n: fill(n, lambda i: b"G1 X%d E9\n" % (900000 * (i % 2))),
    "slowest moves": lambda n: fill(n, lambda i: b"G1 X%d E.1 F.001\n" % (10 + i % 2)),
}


def measure(words, folder):
    """CPU seconds, greatest MiB, exit status, messages."""
    # Forked from a small process: a child's greatest memory counts what its parent had.
    script = ("import os,subprocess,sys; c=subprocess.Popen(sys.argv[1:],stdout=subprocess.DEVNULL);"
              "_,s,u=os.wait4(c.pid,0);"
              "print(u.ru_utime+u.ru_stime,u.ru_maxrss/1024,os.waitstatus_to_exitcode(s))")
    result = subprocess.run([sys.executable, "-c", script, *words], cwd=folder, capture_output=True)
    seconds, mib, status = result.stdout.split()
    return float(seconds), float(mib), int(status), result.stderr


def one_run(program, command, folder):
    words = [program, "adapt" if command == "pace" else command, "nasty.gcode",
             "--profile", "auger.toml"]
    if command != "inspect":
        words += ["--output", "/dev/null", "--quiet"]
    if command == "pace":
        words += ["--extra-time", "10%"]
    return measure(words, folder)


def try_kind(options, program, folder, kind, command):
    """Prints one row; the number of faults."""
    row, before, faults = [], None, 0
    for size in (float(size) for size in options.sizes.split(",")):
        with open(os.path.join(folder, "nasty.gcode"), "wb") as file:
            file.writelines(KINDS[kind](int(size * 1e6)))
        seconds, mib, status, said = one_run(program, command, folder)
        row.append(f"{seconds:8.2f} s {mib:5.0f} MiB")
        refused = b"pass its check" in said or b"leave the path" in said
        if status not in (0, 1) or refused:
            faults += 1
            print(f"FAULT: {kind}, {command}: status {status}: "
                  f"{said.decode(errors='replace')[:300]}", file=sys.stderr)
        if before and seconds > 1.5 * before[1] * size / before[0] + 2:
            faults += 1
            print(f"FAULT: {kind}, {command}: grows faster than the file", file=sys.stderr)
        before = (size, seconds)
    print(f"{kind:22} {command:8} {' '.join(row)}", flush=True)
    return faults


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("--sizes", default="0.02,0.2")
    parser.add_argument("--commands", default="inspect,adapt")
    parser.add_argument("--only")
    options = parser.parse_args()
    program = os.path.abspath(options.program)
    folder = tempfile.mkdtemp(prefix="meltlag-nasty-")
    faults = 0
    resource.setrlimit(resource.RLIMIT_CPU, (3600, 3600))
    try:
        with open(os.path.join(folder, "auger.toml"), "wb") as file:
            file.write(PROFILE)
        for kind in KINDS:
            for command in options.commands.split(",") if options.only in (None, kind) else ():
                faults += try_kind(options, program, folder, kind, command)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    print(f"{faults} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
