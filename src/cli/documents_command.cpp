// SPDX-License-Identifier: MIT
#include "documents_command.hpp"

#include <fmt/format.h>

#include <memory>
#include <string>
#include <vector>

#include "output.hpp"
#include "output_files.hpp"
#include "value_name.hpp"

namespace meltlag::cli {
namespace {

// Text as roff takes it: no line may begin a request by chance.
std::string roff(std::string const& text) {
  std::string out;
  bool line_start = true;
  for (char const c : text) {
    if (line_start && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
    line_start = c == '\n';
  }
  return out;
}

std::vector<CLI::App const*> listed_commands(CLI::App const& app) {
  return app.get_subcommands([](CLI::App const* command) { return !command->get_group().empty(); });
}

std::string first_line(std::string const& text) { return text.substr(0, text.find('\n')); }

// "meltlag calibrate fit": all names from the program's down.
std::string full_name(CLI::App const& app) {
  return (app.get_parent() != nullptr ? full_name(*app.get_parent()) + ' ' : "") + app.get_name();
}

std::string page_name(CLI::App const& app) {
  std::string name = full_name(app);
  for (char& c : name)
    if (c == ' ') c = '-';
  return name;
}

std::string description(CLI::App const& app) {
  // Lines stand as written: examples must not be filled.
  return ".SH DESCRIPTION\n.nf\n" + roff(app.get_description()) + "\n.fi\n";
}

std::string options(CLI::App const& app) {
  std::string text;
  for (CLI::Option const* option : app.get_options()) {
    std::string const names = option->get_name(false, true);
    std::string const name = option->get_positional() ? option->get_name() : names;
    std::string const type = option->get_positional() || option->get_items_expected_max() == 0
                                 ? ""
                                 : " " + value_name(*option);
    text += fmt::format(".TP\n.B {}\n{}{}\n",
                        roff(name + type),
                        roff(option->get_description()),
                        option->get_required() ? " (needed)" : "");
  }
  return text.empty() ? text : ".SH OPTIONS\n" + text;
}

std::string commands(CLI::App const& app) {
  std::string text;
  for (CLI::App const* command : listed_commands(app))
    text += fmt::format(".TP\n.BR {} (1)\n{}\n",
                        roff(page_name(*command)),
                        roff(first_line(command->get_description())));
  return text.empty() ? text : ".SH COMMANDS\n" + text;
}

std::string see_also(CLI::App const& app) {
  if (app.get_parent() == nullptr) return {};
  return fmt::format(".SH SEE ALSO\n.BR {} (1)\n", roff(page_name(*app.get_parent())));
}

std::string usage(CLI::App const& app) {
  std::string text = ".SH SYNOPSIS\n.B " + roff(full_name(app)) + "\n";
  if (!listed_commands(app).empty()) text += "COMMAND ...\n";
  for (CLI::Option const* option : app.get_options())
    if (option->get_positional()) text += roff(option->get_name()) + "\n";
  return text + "[OPTIONS]\n";
}

std::string page(CLI::App const& app) {
  constexpr char status[] =
      ".SH EXIT STATUS\n0: done. 1: the input or the data is at fault and nothing was written; for "
      "diff: the files differ. 2: wrong usage; for diff: trouble of any kind.\n";
  std::string const name = page_name(app);
  return fmt::format(".TH {} 1 \"\" \"meltlag {}\"\n.SH NAME\n{} \\- {}\n",
                     roff(name),
                     MELTLAG_VERSION,
                     roff(name),
                     roff(first_line(app.get_description()))) +
         usage(app) + description(app) + commands(app) + options(app) + status + see_also(app);
}

void write_pages(CLI::App const& app, std::string const& folder) {
  write_new_file(folder + "/man/" + page_name(app) + ".1", page(app), Overwrite::allowed);
  for (CLI::App const* command : listed_commands(app)) write_pages(*command, folder);
}

// One case a command: the words that may follow it.
std::string completion_cases(CLI::App const& app) {
  std::string words;
  for (CLI::App const* command : listed_commands(app)) words += command->get_name() + ' ';
  for (CLI::Option const* option : app.get_options())
    for (std::string const& name : option->get_lnames()) words += "--" + name + ' ';
  std::string text = fmt::format("    '{}') words='{}' ;;\n", full_name(app), words);
  for (CLI::App const* command : listed_commands(app)) text += completion_cases(*command);
  return text;
}

std::string completion(CLI::App const& app) {
  return "# Completion of meltlag's commands and options for bash.\n"
         "_meltlag() {\n"
         "  local current=${COMP_WORDS[COMP_CWORD]} path=meltlag word words=\n"
         "  for word in \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"; do\n"
         "    case \"$path $word\" in\n" +
         [&] {
           std::string text;
           for (CLI::App const* command : listed_commands(app)) {
             text += fmt::format("      '{}')", full_name(*command)) + " path+=\" $word\" ;;\n";
             for (CLI::App const* below : listed_commands(*command))
               text += fmt::format("      '{}')", full_name(*below)) + " path+=\" $word\" ;;\n";
           }
           return text;
         }() +
         "    esac\n"
         "  done\n"
         "  case $path in\n" +
         completion_cases(app) +
         "  esac\n"
         "  COMPREPLY=($(compgen -W \"$words\" -- \"$current\"))\n"
         "}\n"
         "complete -o default -F _meltlag meltlag\n";
}

}  // namespace

void add_documents_command(CLI::App& app, int& status) {
  auto const folder = std::make_shared<std::string>();
  CLI::App* const command = app.add_subcommand(
      "documents",
      "Write manual pages and bash completion.\nExample: meltlag documents build/documents");
  command->group("");
  command->add_option("FOLDER", *folder, "Where to write: man/*.1 and completion")->required();
  command->callback([folder, &app, &status] {
    write_pages(app, *folder);
    write_new_file(*folder + "/completion", completion(app), Overwrite::allowed);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
