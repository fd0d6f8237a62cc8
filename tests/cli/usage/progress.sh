# SPDX-License-Identifier: MIT
# What a command is at: a bar on a terminal after two seconds, a line every ten seconds elsewhere,
# nothing before. The command is held up for so long, so that the test depends on no machine's speed.
command -v script >/dev/null || skip 'needs script for a terminal'
write_profile auger.toml
write_part part.gcode
{
  printf 'M83\nM104 S205\n'
  for ((i = 0; i < 1500; ++i)); do
    printf 'G1 X%d Y10 E0.9 F1500\nG1 X%d Y%d E0.4\n' $((i % 20 + 20)) $((i % 20)) $((i % 30 + 20))
  done
} >long.gcode
head -n 202 long.gcode >short.gcode
{ for ((i = 0; i < 25; ++i)); do cat long.gcode; done; } >huge.gcode

# held SECONDS COMMAND...: run, but stopped for that time soon after its start.
held() {
  local seconds=$1
  shift
  "$@" &
  local job=$!
  for ((i = 0; i < 100; ++i)); do
    [[ -s pid ]] && break
    sleep 0.02
  done
  sleep 0.1
  local self above
  read -r self above <pid
  kill -STOP "$self"
  sleep "$seconds"
  kill -CONT "$self" "$above"  # script stops with what runs in it
  wait "$job"
  rm pid
}
cat >run.sh <<'RUN'
#!/bin/bash
echo $$ $PPID >pid
exec meltlag "$@"
RUN
chmod +x run.sh
on_terminal() { script -qec "$*" typescript </dev/null >screen 2>&1; }

# On a terminal: what is done, a bar, what remains; gone when there is a result.
held 2.5 on_terminal ./run.sh adapt long.gcode --profile auger.toml --output a.gcode --force
grep -qE '\[[#.]{24}\] +[0-9]+ %  adapting' screen || fail "no bar: $(tr '\r' '\n' <screen | head -5)"
tail -c 300 screen | tr '\r' '\n' | tail -n 1 | grep -q '\[[#.]' && fail 'the bar is still there'
for command in 'predict huge.gcode --profile auger.toml' \
  'diff huge.gcode huge.gcode --profile auger.toml --json' \
  'adapt short.gcode --profile auger.toml --time-table'; do
  held 2.5 on_terminal ./run.sh "$command"
  grep -qE '\[[#.]{24}\] +[0-9]+ %  (predicting|comparing the files|time table)' screen ||
    fail "$command: no bar: $(tr '\r' '\n' <screen | head -5)"
done
held 2.5 on_terminal ./run.sh adapt long.gcode --profile auger.toml --output b.gcode --quiet
grep -q '%' screen && fail 'progress although --quiet'
cmp a.gcode b.gcode || fail 'watching changes the result'

# No terminal: nothing for ten seconds, then a whole line.
held 3 ./run.sh adapt long.gcode --profile auger.toml --output c.gcode 2>messages
grep -q 'adapting' messages && fail 'a line too early'
held 10.5 ./run.sh adapt long.gcode --profile auger.toml --output d.gcode 2>messages
grep -qE '^meltlag: adapting: [0-9]+ % done' messages || fail "no line: $(head -3 messages)"
grep -q $'\r' messages && fail 'a bar in a file'

# Soon done: nothing, in neither.
on_terminal meltlag adapt part.gcode --profile auger.toml --output e.gcode
grep -q '\[[#.]' screen && fail 'a bar for a moment'
on_terminal meltlag predict part.gcode --profile auger.toml
grep -q '\[[#.]' screen && fail 'a bar for a moment'
true
