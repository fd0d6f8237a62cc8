#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Installs a build in three ways and tries each: install.sh BUILD [static]
#   cmake --install       program, manual pages, completion, profiles; the library with an example
#   the Debian packages   into a fresh root, run there, removed without leftovers
# With "static" the program must run in an empty root, and nothing but it.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
build=$1 static=${2:-}
scratch=$(mktemp -d "${TMPDIR:-/tmp}/meltlag-install.XXXXXX")
trap 'rm -rf "$scratch"' EXIT
fail() { echo "FAULT: $*" >&2; exit 1; }
sample=$root/samples/cable-clip-arcs.gcode

echo "cmake --install"
cmake --install "$build" --prefix "$scratch/usr" >/dev/null
program=$scratch/usr/bin/meltlag
"$program" --version | grep -Eq '^meltlag [0-9]+\.[0-9]+\.[0-9]+' || fail 'no version'
commands=$("$program" --help | sed -n '/^Subcommands/,$ s/^  \([a-z]*\) .*/\1/p')
[[ $(wc -w <<<"$commands") -ge 6 ]] || fail "no commands in the help: $commands"
for command in $commands; do
  page=$scratch/usr/share/man/man1/meltlag-$command.1
  [[ -s $page ]] || fail "no manual page of $command"
  for option in $("$program" "$command" --help | grep -oE '^ +(-h,)?--[a-z-]+' | grep -oE -- '--.*'); do
    grep -qF -- "${option//-/\\-}" "$page" || fail "$option is not in the page of $command"
  done
done
if command -v man >/dev/null; then
  for page in "$scratch"/usr/share/man/man1/*.1; do
    said=$(LC_ALL=C.UTF-8 MANWIDTH=80 man --warnings -E UTF-8 -l "$page" 2>&1 >/dev/null)
    [[ -z $said ]] || fail "$page: $said"
  done
fi
(
  source "$scratch/usr/share/bash-completion/completions/meltlag"
  COMP_WORDS=(meltlag adapt --pro) COMP_CWORD=2
  _meltlag
  [[ ${COMPREPLY[*]} == --profile ]] || fail "completes --pro to '${COMPREPLY[*]}'"
  COMP_WORDS=(meltlag ad) COMP_CWORD=1
  _meltlag
  [[ ${COMPREPLY[*]} == adapt ]] || fail "completes ad to '${COMPREPLY[*]}'"
)
cat >"$scratch/auger.toml" <<'PROFILE'
[lag]
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
PROFILE
{ cat "$scratch/auger.toml"; printf '[material]\nuse = "pla"\n'; } >"$scratch/pla.toml"
"$program" profile check "$scratch/pla.toml" >/dev/null || fail 'the installed materials are not found'
"$program" adapt "$sample" --profile "$scratch/auger.toml" --output "$scratch/one.gcode" --quiet

echo "find_package(meltlag)"
cmake -S "$root/tests/trust/install_example" -B "$scratch/example" -G Ninja \
  -DCMAKE_PREFIX_PATH="$scratch/usr" -DCMAKE_BUILD_TYPE=Release >/dev/null
cmake --build "$scratch/example" >/dev/null
said=$("$scratch/example/lag_of" "$scratch/auger.toml" "$sample")
[[ $said =~ ^lag\ 0\.300\ s,\ misplaced\ [0-9]+\.[0-9]\ %$ ]] || fail "the example says: $said"

command -v dpkg-deb >/dev/null || { echo "Debian packages: left out, there is no dpkg"; exit 0; }
echo "Debian packages"
(cd "$build" && cpack -G DEB -B "$scratch/packages" >/dev/null)
rm -rf "$scratch/packages/_CPack_Packages"
package=$(ls "$scratch"/packages/meltlag_*.deb)
fresh=$scratch/fresh
mkdir -p "$fresh/var/lib/dpkg/"{info,updates,triggers} "$fresh/tmp"
touch "$fresh/var/lib/dpkg/"{status,available}
list() { (cd "$fresh" && find . -path ./var -prune -o -print | LC_ALL=C sort); }
list >"$scratch/before"
into_fresh() { dpkg --root="$fresh" --force-not-root --force-bad-path --force-depends "$@" >/dev/null; }
into_fresh --install "$package"
[[ -x $fresh/usr/bin/meltlag && -s $fresh/usr/share/man/man1/meltlag.1 ]] || fail 'not installed'
if [[ $static == static && $(id -u) -eq 0 ]]; then
  cp "$sample" "$scratch/auger.toml" "$scratch/pla.toml" "$fresh/tmp"
  chroot "$fresh" /usr/bin/meltlag profile check /tmp/pla.toml >/dev/null ||
    fail 'the materials are not found in the fresh root'
  chroot "$fresh" /usr/bin/meltlag adapt /tmp/cable-clip-arcs.gcode --profile /tmp/auger.toml \
    --output /tmp/out.gcode --quiet
  cmp "$fresh/tmp/out.gcode" "$scratch/one.gcode" || fail 'another result in the fresh root'
  rm "$fresh/tmp/"*
fi
into_fresh --purge meltlag
list | diff "$scratch/before" - || fail 'left behind after removal'
echo "installed, run and removed"
