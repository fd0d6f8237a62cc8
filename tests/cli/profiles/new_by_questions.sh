# SPDX-License-Identifier: MIT
# Answers, one of them asked for again, become a profile; Enter leaves a question open.
answers() {
  printf '%s\n' 'Bench auger, first build' '1,75' 12 11.8 9 18 1.5 1 1.5 'printed bracket' \
    5 'a hair' 0.05 "$1" 15 5 5 0.6
}
answers pla >answers.txt
expect 0 meltlag profile new auger.toml --settings "$samples/printer-settings.txt" --ask <answers.txt
says 'What is the machine called?'
says 'Please give a number'
shows 'Wrote auger.toml'
shows 'Next: meltlag profile check auger.toml'
grep -qF 'printed bracket' auger.toml || fail 'the bracket is not in the profile'
grep -q '^run_on_mm3 = 5' auger.toml || fail 'the run-on is not in the profile'
expect 0 meltlag profile check auger.toml
shows 'Bench auger, first build'

# At the end of the input the rest stays open, and what is needed first is named.
expect 0 meltlag profile new open.toml --ask <<<'Another auger'
shows 'Fill in first'
grep -q 'Another auger' open.toml || fail 'the title is not in the profile'
