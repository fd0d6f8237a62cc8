# SPDX-License-Identifier: MIT
# What gives way goes into [mechanics]: by dial gauge, or by a load test with its hysteresis.
write_profile auger.toml
stiffness() { meltlag calibrate stiffness --profile "$@"; }
guard
expect 0 stiffness auger.toml --name 'printed bracket' --deflection-mm 0.03 --at-flow 5
shows 'name = "printed bracket", deflection_mm = 0.03, at_flow_mm3_s = 5.0'
untouched
expect 0 stiffness auger.toml --name 'printed bracket' --deflection-mm 0.03 --at-flow 5 --output one.toml
expect 0 stiffness one.toml --name frame --deflection-mm 0.01 --deflection-sd-mm 0.002 --at-flow 5 --output two.toml
grep -q 'parts = .*printed bracket.*frame.*deflection_mm_sd = 0.002' two.toml || fail 'not two parts'
expect 0 meltlag profile check two.toml

printf 'force_kg;deflection_mm\n0;0\n5;0,028\n10;0,061\n15;0,092\n10;0,075\n5;0,045\n0;0,012\n' >loads.csv
mkdir kept
expect 0 stiffness auger.toml --load-test loads.csv --output kept/loaded.toml
shows 'hysteresis'
shows '% of the work is lost'
grep -qx 'load_test = "../loads.csv"' kept/loaded.toml || fail 'the table is not found from there'
expect 0 meltlag profile check kept/loaded.toml
shows 'load test 1578'
expect 0 stiffness auger.toml --load-test loads.csv --json
python3 -c 'import json,sys; assert 1500 < json.load(open(sys.argv[1]))["n_per_mm"] < 1600' \
  "$MELTLAG_NOTES/results" || fail 'no stiffness in the JSON'

guard
expect 1 stiffness one.toml --load-test loads.csv --output x.toml
says 'take parts out'
expect 1 stiffness kept/loaded.toml --name frame --deflection-mm 0.01 --at-flow 5 --output x.toml
says 'take load_test out'
printf 'base = "one.toml"\n' >child.toml
guard
expect 1 stiffness child.toml --name frame --deflection-mm 0.01 --at-flow 5 --output x.toml
says 'base'
expect 2 stiffness auger.toml --name frame
expect 2 stiffness auger.toml --name frame --deflection-mm 0.01 --at-flow 5 --load-test loads.csv
expect 2 stiffness auger.toml --name frame --deflection-mm 0 --at-flow 5
# The name of version 0.1.
expect 2 meltlag calibrate give --profile auger.toml --name frame --give-mm 0.01 --at-flow 5
says "'calibrate give' is called 'calibrate stiffness' since version 0.2"
says 'calibrate --help'
expect 0 meltlag calibrate --help
! grep -qE '^ +give ' "$MELTLAG_NOTES/results" || fail 'the old name is still offered'
untouched
