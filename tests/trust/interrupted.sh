#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Interrupts .ci/fresh at two moments and in four ways, then looks: nothing of it runs on, its folder is
# gone (or, after SIGKILL, safe to remove), and no mount and no device of this machine has changed.
# The bare root is a stand-in with a shell in it, so that no network is needed.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
fail() { echo "FAULT: $*" >&2; exit 1; }
skip() { echo "left out: $*"; exit 77; }
[[ $(id -u) -eq 0 ]] || skip 'bare roots can only be made as root'
unshare --mount --propagation private --pid --fork true 2>/dev/null || skip 'no namespaces here'
command -v mmdebstrap >/dev/null || skip 'mmdebstrap is not installed'
git -c safe.directory='*' -C "$root" rev-parse HEAD >/dev/null 2>&1 || skip 'no commit to try'

scratch=$(mktemp -d "${TMPDIR:-/tmp}/meltlag-interrupted.XXXXXX")
trap 'rm -rf --one-file-system "$scratch"' EXIT
mkdir "$scratch/bin" "$scratch/tmp" "$scratch/precious"
echo kept >"$scratch/precious/file"
sleeper=$((600000 + $$))

# A base of this machine's own shell. Before it is done it mounts what must not be lost, and waits.
cat >"$scratch/bin/mmdebstrap" <<STAND_IN
#!/usr/bin/env bash
set -euo pipefail
for word in "\$@"; do [[ \$word != */base ]] || base=\$word; done
mkdir -p "\$base"/{bin,usr/bin,etc/apt/sources.list.d,proc,dev,precious,tmp}
for program in bash env sleep mount; do
  path=\$(realpath "\$(command -v \$program)")
  for file in "\$path" \$(ldd "\$path" | grep -oE '/[^ ]+'); do
    mkdir -p "\$base\$(dirname "\$file")"
    cp -Ln "\$file" "\$base\$file"
  done
done
[[ -e \$base/bin/bash ]] || ln -s /usr/bin/bash "\$base/bin/bash"
mount --bind "$scratch/precious" "\$base/precious"
[[ ! -e $scratch/early ]] || { touch "$scratch/reached"; sleep $sleeper; }
umount "\$base/precious"
STAND_IN
chmod +x "$scratch/bin/mmdebstrap"

mounts() { cut -d' ' -f4- /proc/self/mountinfo | LC_ALL=C sort; }
running() {
  local folder
  for folder in /proc/[0-9]*; do
    [[ $(cat "$folder/comm" 2>/dev/null) == sleep ]] || continue
    [[ $(tr '\0' ' ' 2>/dev/null <"$folder/cmdline") != "sleep $sleeper " ]] || return 0
  done
  return 1
}
await() {
  for _ in $(seq 200); do
    if "$@"; then return; fi
    sleep 0.1
  done
  return 1
}
ended() { ! running; }

# interrupt MOMENT SIGNAL: `base` while the base is made, `within` while a command runs in the root.
interrupt() {
  local moment=$1 signal=$2 fresh
  rm -f "$scratch/early" "$scratch/reached"
  [[ $moment != base ]] || touch "$scratch/early"
  # Interactive shells leave SIGINT alone, scripts ignore it for what runs in the background.
  PATH=$scratch/bin:$PATH TMPDIR=$scratch/tmp \
    python3 -c 'import os, signal, sys
signal.signal(signal.SIGINT, signal.SIG_DFL)
os.execv(sys.argv[1], sys.argv[1:])' "$root/.ci/fresh" run sleep "$sleeper" >"$scratch/said" 2>&1 &
  fresh=$!
  await running || fail "$moment: never came so far: $(cat "$scratch/said")"
  [[ -n $(ls "$scratch/tmp") ]] || fail 'no folder was made'
  kill -"$signal" "$fresh"
  wait "$fresh" 2>/dev/null && fail "$moment, $signal: ended as if all were well"
  await ended || fail "$moment, $signal: something of it runs on"
  [[ $(mounts) == "$before" ]] || fail "$moment, $signal: other mounts than before"
  if [[ $signal == KILL ]]; then rm -rf --one-file-system "$scratch"/tmp/meltlag-fresh.*; fi
  [[ -z $(ls "$scratch/tmp") ]] || fail "$moment, $signal: left behind: $(ls "$scratch/tmp")"
  [[ $(cat "$scratch/precious/file") == kept ]] || fail "$moment, $signal: reached what was mounted"
  [[ -c /dev/null && -c /dev/zero && -r /proc/1/stat ]] || fail "$moment, $signal: reached /dev or /proc"
}

before=$(mounts)
for moment in base within; do
  for signal in INT TERM HUP KILL; do interrupt "$moment" "$signal"; done
done
echo "interrupted 8 times, nothing was harmed"
