// SPDX-License-Identifier: MIT
#include "meltlag/gcode/interpreter.hpp"

#include <algorithm>
#include <cassert>
#include <utility>

#include "commands.hpp"
#include "meltlag/base/text.hpp"
#include "modal.hpp"
#include "motion_line.hpp"
#include "move_words.hpp"

namespace meltlag::gcode {
namespace {

// Where a program stands between its '%' lines.
enum class Demarcation : std::uint8_t {
  before,  // nothing but comments and empty lines so far: a '%' now opens
  none,    // the program began without '%'
  open,
  ended,
};

bool starts_command(Word const& word) {
  return word.has_value && (word.letter == 'G' || word.letter == 'M' || word.letter == 'T');
}

bool is_motion(Code code) { return code.sub == 0 && code.number >= 0 && code.number <= 3; }

bool is_text_command(Word const& word) { return word.letter == 'M' && takes_text(code_of(word)); }

// Axis words without a code in front continue the last move. "E3 hotend …" is prose.
bool is_bare_motion(Block const& block) {
  auto const& words = block.words;
  if (!words[0].has_value || !is_motion_letter(words[0].letter)) return false;
  return words.size() == 1 || is_motion_letter(words[1].letter) || starts_command(words[1]);
}

// End of the group of words that starts at `begin` with a G: modal codes, at most one code that
// acts, and their words in any order.
std::size_t end_of_g_group(Words words, std::size_t begin) {
  bool acts = false;
  for (std::size_t i = begin; i < words.size(); ++i) {
    if (words[i].letter == 'M' && words[i].has_value) return i;
    if (words[i].letter != 'G' || !words[i].has_value || is_modal_g(code_of(words[i]))) continue;
    if (acts) return i;
    acts = true;
  }
  return words.size();
}

// M42 M1: the second M is a word of the first. M109 S200G1 X1: the G is a command of its own.
std::size_t end_of_group(Words words, std::size_t begin) {
  Word const& first = words[begin];
  if (first.letter != 'M' && first.letter != 'T') return end_of_g_group(words, begin);
  if (is_text_command(first)) return words.size();
  for (std::size_t i = begin + 1; i < words.size(); ++i) {
    if (!starts_command(words[i])) continue;
    if (words[i].letter == 'G' || (first.letter == 'T' && words[i].letter == 'M')) return i;
  }
  return words.size();
}

Word const* acting_code(Words group) {
  for (Word const& word : group) {
    if (word.letter == 'G' && word.has_value && !is_modal_g(code_of(word))) return &word;
  }
  return nullptr;
}

LineRole execute_g_group(Line const& line, Words group, Company company) {
  for (Word const& word : group) {
    if (word.letter == 'G' && word.has_value) apply_modal_g(line, code_of(word));
  }
  Word const* const acting = acting_code(group);
  if (acting == nullptr) {
    if (group.front().letter != 'G') {
      make_move(line, group, company);
    } else if (group.size() > 1 && is_motion_letter(group[1].letter)) {
      line.note("axis words after a G code that makes no move: not taken as a move");
    }
    return LineRole::other;
  }
  Code const code = code_of(*acting);
  bool const bare = std::ranges::all_of(group, [](Word const& word) { return word.letter == 'G'; });
  if (is_motion(code)) {
    line.modal.motion = code.number;
    make_move(line, group, company);
  } else if (bare && (code == Code{10} || code == Code{11})) {
    require_readable(line);
    code.number == 10 ? retract(line, company) : recover(line, company);
  } else {
    execute_g(line, *acting, group);
    return LineRole::other;
  }
  return company == Company::alone ? LineRole::motion : LineRole::other;
}

LineRole execute_group(Line const& line, Words group, Company company) {
  Word const& first = group.front();
  if (first.letter != 'M' && first.letter != 'T') return execute_g_group(line, group, company);
  if (first.letter == 'M') {
    execute_m(line, first, group.subspan(1));
  } else {
    execute_t(line, first);
  }
  return LineRole::other;
}

bool holds_command(Words words) {
  return std::ranges::any_of(words, [](Word const& word) {
    return word.has_value && (word.letter == 'G' || word.letter == 'M');
  });
}

// True when the line starts with a G code and holds no other command.
bool is_single_command(Words words, std::size_t end_of_first) {
  return end_of_first == words.size() && words[0].letter == 'G' &&
         find(words.subspan(1), 'G') == nullptr;
}

LineRole execute_line(Line const& line) {
  Words const words(line.block.words);
  std::size_t end = end_of_group(words, 0);
  auto const company = is_single_command(words, end) ? Company::alone : Company::shared;
  LineRole role = execute_group(line, words.first(end), company);
  for (std::size_t begin = end; begin < words.size(); begin = end) {
    end = end_of_group(words, begin);
    execute_group(line, words.subspan(begin, end - begin), company);
    role = LineRole::other;
  }
  return role;
}

}  // namespace

struct Interpreter::State {
  InterpreterOptions options;
  Notices& notices;
  Modal modal = {};
  Demarcation demarcation = Demarcation::before;

  LineRole read_wordless(Line const& line);
  bool take_percent(Block const& block);
};

// True when the line is a '%' that opens or ends the program.
bool Interpreter::State::take_percent(Block const& block) {
  if (trim(block.text) != "%" || demarcation == Demarcation::none) return false;
  bool const opens = demarcation == Demarcation::before;
  demarcation = opens ? Demarcation::open : Demarcation::ended;
  if (!opens) notices.note("the program ends at '%': what follows is passed through", block.line);
  return true;
}

// Empty lines, comments, '%', and what holds no readable word at all.
LineRole Interpreter::State::read_wordless(Line const& line) {
  Block const& block = line.block;
  if (block.bad_column == 0 && block.comment.starts_with(marker_text)) return LineRole::marker;
  if (take_percent(block)) return LineRole::other;
  bool const stray_percent = block.bad_column == 0 && trim(block.text) == "%";
  if (block.bad_column == 0 && !stray_percent) return LineRole::other;
  if (demarcation == Demarcation::before) demarcation = Demarcation::none;
  pass_macro(line);
  return LineRole::other;
}

Interpreter::Interpreter(InterpreterOptions options, Notices& notices)
    : state_(std::make_unique<State>(State{.options = std::move(options), .notices = notices})) {
  assert(state_->options.slicer_diameter_mm > 0);
  state_->modal.g91_covers_e = state_->options.g91_covers_e;
  state_->modal.slicer_area_mm2 = circle_area(state_->options.slicer_diameter_mm);
}

Interpreter::~Interpreter() = default;
Interpreter::Interpreter(Interpreter&&) noexcept = default;

LineRole Interpreter::interpret(Block const& block, MeaningSink& sink) {
  State& state = *state_;
  if (state.demarcation == Demarcation::ended) return LineRole::other;
  Line const line{state.modal, state.notices, sink, block, state.options.file_name};
  if (block.block_delete) {
    line.note("a line with '/' in front: taken as switched off, passed through");
    return LineRole::other;
  }
  if (!block.checksum_ok)
    line.note("a checksum that does not fit its line: the line is read as it is");
  if (block.words.empty()) return state.read_wordless(line);
  if (state.demarcation == Demarcation::before) state.demarcation = Demarcation::none;
  bool const bare_motion = is_bare_motion(block);
  if (bare_motion && !holds_command(block.words)) {
    make_move(line, block.words, Company::alone);
    return LineRole::motion;
  }
  if (!bare_motion && !starts_command(block.words[0])) {
    pass_macro(line);
    return LineRole::other;
  }
  LineRole const role = execute_line(line);
  if (block.bad_column != 0 && !is_text_command(block.words[0])) {
    line.note("a line whose end cannot be read: the words before it are taken");
  }
  return role;
}

bool Interpreter::e_mode_never_stated() const { return state_->modal.e_mode_never_stated; }

double Interpreter::e_register_word() const {
  return state_->modal.e_register_mm / state_->modal.mm_per_unit;
}

}  // namespace meltlag::gcode
