// SPDX-License-Identifier: MIT
#include "profile_edits.hpp"

#include <fmt/format.h>

#include "meltlag/base/error.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/profile/profile.hpp"
#include "profile_command.hpp"

namespace meltlag::cli {

std::string listed(std::vector<ProfileEdit> const& edits) {
  std::string text;
  for (ProfileEdit const& edit : edits)
    text += fmt::format("  [{}] {} = {}\n", edit.section, edit.key, edit.value);
  return text;
}

void write_profile(std::string const& from,
                   std::string const& to,
                   std::vector<ProfileEdit> const& edits,
                   Overwrite overwrite) {
  refuse_to_overwrite(to, overwrite);
  std::string text = read_text_file(from, "name an existing profile");
  for (ProfileEdit const& edit : edits)
    text = profile::with_value(text, edit.section, edit.key, edit.value);
  write_profile_text(text, to, listed(edits), overwrite);
}

void write_profile_text(std::string const& text,
                        std::string const& to,
                        std::string const& changes,
                        Overwrite overwrite) {
  try {
    (void)profile::parse(text, to, load_options());
  } catch (Error const& error) {
    throw Error(
        fmt::format("the changed profile would not load and was not written: {}", error.what()),
        {},
        "write it into the old one's folder, or change it by hand:\n" + changes);
  }
  write_new_file(to, text, overwrite);
}

}  // namespace meltlag::cli
