#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Lets everything go wrong that can while meltlag writes, and looks at the files afterwards.

    faults.py PROGRAM PRELOAD [--kills N] [--together N] [--seed N]

PRELOAD is the library made from faults.cpp. After each fault the original is byte for byte what it
was, or the new file is there, whole; nothing else is left in the folder unless the program had no
chance to tidy up (SIGKILL); the message names the cause and the exit status is 1.
"""
import argparse, errno, os, random, shutil, signal, stat, subprocess, sys, tempfile, time

LONG = "; meltlag test part\nG21\nG90\nM83\nM109 S205\n"
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


def part(rows):
    lines = [LONG]
    for row in range(rows):
        y = 10 + 0.8 * row
        lines.append(f"G0 X10 Y{y:.2f} F4800\nG1 E1 F1800\nG1 X50 Y{y:.2f} E3.6 F1500\n"
                     f"G1 X50 Y{y + 0.4:.2f} E.036\nG1 X30 Y{y + 0.4:.2f} E1.8 F2400\nG1 E-1 F1800\n")
    return "".join(lines).encode()


class Bench:
    def __init__(self, options):
        self.program, self.preload = map(os.path.abspath, (options.program, options.preload))
        self.folder = tempfile.mkdtemp(prefix="meltlag-faults-")
        self.temporary = os.path.join(self.folder, "tmp")
        self.random = random.Random(options.seed)
        self.faults, self.tried = [], {}
        self.environment = {"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8", "TMPDIR": self.temporary}

    def fresh(self):
        work = os.path.join(self.folder, "work")
        for folder in (work, self.temporary):
            shutil.rmtree(folder, ignore_errors=True)
            os.mkdir(folder)
        for name, data in (("part.gcode", self.part), ("auger.toml", PROFILE.encode()),
                           ("widths.csv", b"gcode_line,width_mm\n8,0.7\n10,0.8\n"),
                           ("old.gcode", b"G1 X1 ; of yesterday\n")):
            with open(os.path.join(work, name), "wb") as file:
                file.write(data)
        os.chmod(os.path.join(work, "part.gcode"), 0o640)
        return work

    def run(self, work, words, fault=None, log=None):
        environment = dict(self.environment)
        if fault or log:
            environment["LD_PRELOAD"] = self.preload
            if fault:
                environment["MELTLAG_FAULT"] = fault
            if log:
                environment["MELTLAG_CALLS"] = log
        return subprocess.run([self.program, *words], cwd=work, env=environment,
                              stdin=subprocess.DEVNULL, capture_output=True, timeout=120)

    def start(self, work, words):
        return subprocess.Popen([self.program, *words], cwd=work, env=self.environment,
                                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                stderr=subprocess.DEVNULL)

    def state(self, work):
        found = {}
        for folder in (work, self.temporary):
            for name in os.listdir(folder):
                with open(os.path.join(folder, name), "rb") as file:
                    found[name] = file.read()
        return found

    def check(self, good, what):
        if not good:
            self.faults.append(what)
            print("FAULT:", what, file=sys.stderr)

    def count(self, row):
        self.tried[row] = self.tried.get(row, 0) + 1


SCENARIOS = {
    "in place": ["adapt", "--profile", "auger.toml", "--in-place", "part.gcode"],
    "in place, original kept": ["adapt", "--profile", "auger.toml", "--in-place",
                                "--keep-original", "part.gcode"],
    "new output": ["adapt", "part.gcode", "--profile", "auger.toml", "--output", "new.gcode"],
    "old output": ["adapt", "part.gcode", "--profile", "auger.toml", "--output", "old.gcode",
                   "--force"],
    "standard output": ["adapt", "part.gcode", "--profile", "auger.toml", "--output", "-"],
    "in place, with a page": ["adapt", "--profile", "auger.toml", "--in-place", "--keep-original",
                              "--report", "page.html", "part.gcode"],
    "with pace": ["adapt", "part.gcode", "--profile", "auger.toml", "--output", "new.gcode",
                  "--target", "99%"],
    "side by side": ["adapt", "part.gcode", "--profile", "auger.toml", "--side-by-side",
                     "--bed-x", "220", "--output", "old.gcode", "--tick-sheet", "ticks.csv", "--force"],
    "table": ["predict", "part.gcode", "--profile", "auger.toml", "--csv", "flow.csv"],
    "table and page": ["predict", "part.gcode", "--profile", "auger.toml", "--csv", "flow.csv",
                       "--report", "page.html"],
    "profile": ["profile", "new", "fresh.toml"],
    "profile edited": ["calibrate", "stiffness", "--profile", "auger.toml", "--name", "bracket",
                       "--deflection-mm", "0.03", "--at-flow", "5", "--output", "auger.toml", "--force"],
    "part weighed": ["compare", "part.gcode", "--profile", "auger.toml", "--mass", "0.3g",
                     "--density", "1.24", "--output", "auger.toml", "--force"],
    "widths compared": ["compare", "part.gcode", "widths.csv", "--profile", "auger.toml",
                        "--layer-height", "0.3", "--csv", "joined.csv"],
    "feed": ["calibrate", "feed", "--profile", "auger.toml", "--plain-start", "--nozzle-c", "205",
             "--output", "old.gcode", "--sheet", "cups.csv", "--force"],
    "test piece": ["calibrate", "print", "--hardware", "old.gcode", "sheet.csv", "--force",
                   "--profile", "auger.toml", "--plain-start", "--nozzle-c", "205"],
    "causes": ["causes", "auger.toml", "--report", "page.html"],
}
# Where several files are written, the one that comes last: it is there only with all the others.
LAST = {"in place, original kept": "part.gcode", "in place, with a page": "part.gcode",
        "side by side": "old.gcode", "table and page": "page.html", "feed": "old.gcode",
        "test piece": "old.gcode"}
ERRORS = {
    "mkostemp": (errno.EACCES, errno.ENOSPC, errno.EROFS, errno.EMFILE),
    "open": (errno.EACCES, errno.ENOSPC),
    "write": (errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EFBIG, errno.EINTR, "short"),
    "read": (errno.EIO, errno.EINTR),
    "fsync": (errno.EIO, errno.ENOSPC, errno.EINTR, errno.EINVAL),
    "fsync_folder": (errno.EIO,),
    "open_folder": (errno.EACCES,),
    "fchmod": (errno.EIO, errno.EROFS, errno.EPERM),
    "fchown": (errno.EIO, errno.EPERM),
    "ftruncate": (errno.EIO,),
    "lseek": (errno.EIO,),
    "close": (errno.EIO, errno.ENOSPC, errno.EINTR),
    "rename": (errno.EACCES, errno.EIO, errno.ENOSPC, errno.EXDEV),
    "link": (errno.EPERM, errno.EIO, errno.EEXIST),
}
HARMLESS = {(call, code) for call in ("write", "read", "fsync", "close") for code in (errno.EINTR,)}
HARMLESS |= {("write", "short"), ("fsync", errno.EINVAL), ("fchmod", errno.EPERM),
             ("fchown", errno.EPERM), ("link", errno.EPERM), ("link", errno.EIO),
             ("fsync_folder", errno.EIO), ("open_folder", errno.EACCES)}


def numbers(count):
    """All of a few calls; of many the first, the last and some between."""
    if count <= 12:
        return range(1, count + 1)
    return sorted({1, 2, 3, count // 4, count // 2, 3 * count // 4, count - 1, count})


def calls_of(bench, words):
    work, log = bench.fresh(), os.path.join(bench.folder, "calls")
    if os.path.exists(log):
        os.remove(log)
    result = bench.run(work, words, log=log)
    assert result.returncode == 0, result.stderr
    with open(log) as file:
        calls = file.read().split()
    return {call: calls.count(call) for call in set(calls)}, bench.state(work), result.stdout


def each_call_fails(bench):
    for name, words in SCENARIOS.items():
        calls, done, printed = calls_of(bench, words)
        before = bench.state(bench.fresh())
        for call, count in sorted(calls.items()):
            bench.check(call in ERRORS, f"{name}: no faults known for {call}")
            for number in numbers(count):
                for how in ERRORS.get(call, ()):
                    # What is put away for a moment is closed last, when all has been said; the texts of
                    # passes, when the one that was chosen has been copied.
                    last = name in ("standard output", "side by side") and number == count
                    passes = name == "with pace" and number < count
                    put_away = call == "close" and (last or passes)
                    one_call_fails(bench, name, words, (call, number, how), before, done, printed,
                                   put_away)


def one_call_fails(bench, name, words, fault, before, done, printed, put_away):
    call, number, how = fault
    harmless = (call, how) in HARMLESS or put_away
    work = bench.fresh()
    result = bench.run(work, words, fault=f"{call}:{number}:{how}")
    what = f"{name}, call {number} of {call} with {how}"
    bench.count("each system call fails in turn")
    after = bench.state(work)
    said = result.stderr.decode(errors="replace")
    if result.returncode == 0:
        bench.check(harmless, f"{what}: not noticed")
        bench.check(after == done and result.stdout == printed, f"{what}: another result")
        return
    bench.check(not harmless, f"{what}: should do no harm: {said}")
    bench.check(result.returncode == 1, f"{what}: exit status {result.returncode}")
    beside = {}
    if call in ("rename", "link") and name in LAST:  # nothing is renamed before all is on the disk
        beside = {key: text for key, text in after.items()
                  if key != LAST[name] and text == done.get(key)}
    bench.check(after == {**before, **beside}, f"{what}: files differ: {sorted(after)}")
    if isinstance(how, int):
        bench.check(os.strerror(how) in said, f"{what}: the message does not name it: {said}")


def sound(bench, work, before, done, what, tidy):
    """Original or whole new file; nothing else, where the program could tidy up."""
    after = bench.state(work)
    for name in before:
        bench.check(after.get(name) in (before[name], done.get(name)), f"{what}: {name} is harmed")
    for name in set(after) - set(before):
        if name in done:
            bench.check(after[name] == done[name], f"{what}: {name} is not whole")
        else:
            bench.check(not tidy and name.startswith(".meltlag-"), f"{what}: left {name}")


def signals_at_calls(bench):
    for name, words in SCENARIOS.items():
        calls, done, _ = calls_of(bench, words)
        before = bench.state(bench.fresh())
        for call, count in sorted(calls.items()):
            for number in numbers(count):
                for how in ("kill", "term", "int"):
                    work = bench.fresh()
                    result = bench.run(work, words, fault=f"{call}:{number}:{how}")
                    what = f"{name}, {how} at call {number} of {call}"
                    bench.count(f"SIG{how.upper()} at each system call")
                    bench.check(result.returncode < 0, f"{what}: status {result.returncode}")
                    sound(bench, work, before, done, what, tidy=how != "kill")


def random_signals(bench, kills):
    name = "in place, original kept"
    words = SCENARIOS[name]
    _, done, _ = calls_of(bench, words)
    before = bench.state(bench.fresh())
    began = time.monotonic()
    bench.run(bench.fresh(), words)
    usual = time.monotonic() - began
    for number in range(kills):
        work = bench.fresh()
        ending = (signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGINT)[number % 4]
        process = bench.start(work, words)
        time.sleep(bench.random.uniform(0, 1.1 * usual))
        process.send_signal(ending)
        process.wait()
        bench.count("kills at random moments (half SIGKILL, the rest SIGTERM and SIGINT)")
        sound(bench, work, before, done, f"random kill {number}", tidy=ending != signal.SIGKILL)


def several_at_once(bench, times):
    words = SCENARIOS["in place"]
    _, done, _ = calls_of(bench, words)
    for number in range(times):
        work = bench.fresh()
        processes = [bench.start(work, words) for _ in range(4)]
        ends = [process.wait() for process in processes]
        bench.count("four runs on one file at once")
        bench.check(0 in ends and set(ends) <= {0, 1}, f"at once {number}: {ends}")
        bench.check(bench.state(work) == done, f"at once {number}: the file is not whole")


def as_another(bench):
    """What root may always do is tried as a user who may not."""
    if os.getuid() != 0:
        return {}
    os.chmod(bench.folder, 0o755)
    return {"user": 65534, "group": 65534, "extra_groups": []}


def permissions(bench):
    def run(work, words, **who):
        return subprocess.run([bench.program, *words], cwd=work, env=bench.environment,
                              stdin=subprocess.DEVNULL, capture_output=True, **who)

    words, who = SCENARIOS["in place"], as_another(bench)
    for mode in (0o444, 0o400, 0o000):
        work = bench.fresh()
        os.chmod(os.path.join(work, "part.gcode"), mode)
        result = run(work, words)
        bench.count("read-only targets")
        bench.check(result.returncode == 1 and b"Permission denied" in result.stderr,
                    f"mode {mode:o} was not refused: {result.stderr}")
        os.chmod(os.path.join(work, "part.gcode"), 0o640)
        bench.check(bench.state(work) == bench.state(bench.fresh()), f"mode {mode:o}: harmed")
    work = bench.fresh()
    os.chmod(os.path.join(work, "part.gcode"), 0o666)
    os.chmod(work, 0o555)
    result = run(work, words, **who)
    os.chmod(work, 0o755)
    bench.count("folders without write permission")
    bench.check(result.returncode == 1 and b"Permission denied" in result.stderr,
                f"folder: {result.stderr}")
    for mode in (0o600, 0o664, 0o755):
        work = bench.fresh()
        path = os.path.join(work, "part.gcode")
        if who:
            os.chown(path, 65534, 4242)
        os.chmod(path, mode)
        old = os.stat(path)
        result = run(work, words)
        new = os.stat(path)
        bench.count("permissions and owner kept")
        bench.check(result.returncode == 0 and old.st_ino != new.st_ino and
                    (old.st_mode, old.st_uid, old.st_gid) == (new.st_mode, new.st_uid, new.st_gid),
                    f"mode {mode:o}: {old} became {new}")


def links(bench):
    _, done, _ = calls_of(bench, SCENARIOS["in place"])
    for depth in (1, 3):
        work = bench.fresh()
        os.mkdir(os.path.join(work, "far"))
        os.rename(os.path.join(work, "part.gcode"), os.path.join(work, "far", "real.gcode"))
        goal = "far/real.gcode"
        for level in range(depth):
            os.symlink(goal, os.path.join(work, f"link{level}"))
            goal = f"link{level}"
        result = bench.run(work, ["adapt", "--profile", "auger.toml", "--in-place", goal])
        bench.count("symbolic links")
        with open(os.path.join(work, "far", "real.gcode"), "rb") as file:
            bench.check(result.returncode == 0 and file.read() == done["part.gcode"],
                        f"link {depth}: {result.stderr}")
        bench.check(all(os.path.islink(os.path.join(work, f"link{i}")) for i in range(depth)) and
                    os.listdir(os.path.join(work, "far")) == ["real.gcode"], f"link {depth}: lost")
    work = bench.fresh()
    os.symlink("b", os.path.join(work, "a"))
    os.symlink("a", os.path.join(work, "b"))
    result = bench.run(work, ["adapt", "part.gcode", "--profile", "auger.toml", "--output", "a"])
    bench.count("symbolic links")
    bench.check(result.returncode == 1, "links in a circle")


def small_disk(bench):
    """A disk of a few pages; needs root and a mount of its own."""
    script = """set -e
mount -t tmpfs -o size=$1 none "$2"; cp part.gcode auger.toml "$2"; cd "$2"
before=$(sha256sum part.gcode); status=0
"$3" adapt --profile auger.toml --in-place part.gcode 2>said || status=$?
if [ $status -eq 0 ]; then exit 0; fi
[ $status -eq 1 ]; grep -q 'No space left' said; [ "$before" = "$(sha256sum part.gcode)" ]
rm said; [ "$(ls -A | tr '\\n' ' ')" = "auger.toml part.gcode " ]; exit 3
"""
    if os.getuid() != 0 or subprocess.run(["unshare", "-m", "true"], capture_output=True).returncode:
        print("a full disk: left out, as it needs root")
        return
    ends = []
    for kib in range(12, 80, 4):
        work = bench.fresh()
        disk = os.path.join(bench.folder, "disk")
        os.makedirs(disk, exist_ok=True)
        result = subprocess.run(["unshare", "-m", "sh", "-c", script, "sh", f"{kib}k", disk,
                                 bench.program], cwd=work, env=bench.environment, capture_output=True)
        bench.count("disks of 12 to 76 KiB")
        ends.append(result.returncode)
        bench.check(result.returncode in (0, 3) or b"cp: " in result.stderr,
                    f"a disk of {kib} KiB: {result.returncode} {result.stderr}")
    bench.check(3 in ends and 0 in ends, f"no disk was full, or all were: {ends}")


def changed_meanwhile(bench):
    words = SCENARIOS["in place"]
    for number in range(10):
        work = bench.fresh()
        path = os.path.join(work, "part.gcode")
        with open(path, "wb") as file:
            file.write(part(600))
        process = bench.start(work, words)
        while process.poll() is None and len(os.listdir(work)) == 4:  # reading has not begun
            time.sleep(0.001)
        with open(path, "wb") as file:
            file.write(b"G21\nG90\nM83\nG1 X5 Y5 E1 F900\n")
        bench.count("another program writes the file meanwhile")
        bench.check(process.wait() == 1, f"changed {number}: was replaced")
        bench.check(bench.state(work)["part.gcode"].startswith(b"G21\nG90"), f"changed {number}")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("preload")
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--together", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    bench = Bench(options)
    bench.part = part(20)
    os.umask(0o022)
    try:
        each_call_fails(bench)
        signals_at_calls(bench)
        permissions(bench)
        links(bench)
        small_disk(bench)
        changed_meanwhile(bench)
        several_at_once(bench, options.together)
        bench.part = part(300)
        random_signals(bench, options.kills)
    finally:
        shutil.rmtree(bench.folder, ignore_errors=True)
    for row, count in bench.tried.items():
        print(f"{count:6} {row}")
    print(f"{len(bench.faults):6} faults")
    return 1 if bench.faults else 0


if __name__ == "__main__":
    sys.exit(main())
