#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""A stream of more than 4 GiB through `meltlag adapt - --output -`, by hand: large.py PROGRAM [GIB]

Long comments between a wall at the beginning and one at the end. Every comment must come out byte
for byte, and both walls must be rewritten. Needs twice the size in TMPDIR.
"""
import hashlib, os, subprocess, sys, tempfile, threading

PROFILE = """[lag]
run_on_mm3 = 1.5
at_flow_mm3_s = 5
flow_index = 1
[machine]
acceleration_mm_s2 = 800
corner_rule = "jump"
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }
[limits]
max_flow_mm3_s = 15
"""
WALL = b"".join(b"G0 X10 Y%d F4800\nG1 X50 Y%d E3.6 F1500\nG1 X10 Y%d E3.6 F2400\n" % (y, y, y)
                for y in range(10, 20))
COMMENT = b";" + b" a word or two about nothing" * 2000 + b"\n"


def feed(stream, count):
    stream.write(b"G21\nG90\nM83\nM104 S205\n" + WALL)
    for _ in range(count):
        stream.write(COMMENT)
    stream.write(WALL)
    stream.close()


def main():
    program, gib = os.path.abspath(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 4.1
    count = int(gib * 2**30 / len(COMMENT)) + 1
    with tempfile.TemporaryDirectory() as folder:
        with open(os.path.join(folder, "auger.toml"), "w") as file:
            file.write(PROFILE)
        run = subprocess.Popen([program, "adapt", "-", "--profile", "auger.toml", "--output", "-",
                                "--quiet"], cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        threading.Thread(target=feed, args=(run.stdin, count)).start()
        comments, moves, digest = 0, [[], []], hashlib.sha256(COMMENT).digest()
        for line in run.stdout:
            if len(line) < 1000:
                moves[comments > 0].append(line)
            elif hashlib.sha256(line).digest() == digest:
                comments += 1
        status = run.wait()
    print(f"{gib} GiB: status {status}, {comments} of {count} comments, "
          f"{len(moves[0])} and {len(moves[1])} lines of moves")
    rewritten = min(len(part) for part in moves) > 1.5 * WALL.count(b"\n")
    return 0 if status == 0 and comments == count and rewritten else 1


if __name__ == "__main__":
    sys.exit(main())
