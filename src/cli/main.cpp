// SPDX-License-Identifier: MIT
// `meltlag`: one file a subcommand; whatever goes wrong in one is caught here, once.
#include <CLI/CLI.hpp>
#include <cerrno>
#include <cstdio>
#include <memory>
#include <new>
#include <sstream>
#include <string>
#include <system_error>
#include <vector>

#include "adapt_command.hpp"
#include "builds_command.hpp"
#include "calibrate_command.hpp"
#include "causes_command.hpp"
#include "commit.hpp"
#include "compare_command.hpp"
#include "diff_command.hpp"
#include "documents_command.hpp"
#include "inspect_command.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "output.hpp"
#include "predict_command.hpp"
#include "profile_command.hpp"
#include "progress.hpp"
#include "terminal.hpp"
#include "value_name.hpp"

namespace meltlag::cli {
namespace {

constexpr char about[] =
    "Rewrites G-code so that a granule extruder lays down what the file asks for,\n"
    "although its outflow lags behind the screw.\n"
    "Example: meltlag adapt part.gcode --profile auger.toml --output adapted.gcode";

constexpr std::size_t help_columns = 80;
constexpr std::size_t name_columns = 26;

// Breaks `text` at blanks into lines of at most `width` columns; its own line breaks stay.
std::string wrapped(std::string text, std::size_t width) {
  std::size_t line = 0, blank = std::string::npos;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == ' ') blank = i;
    if (text[i] == '\n') {
      line = i + 1;
      blank = std::string::npos;
    } else if (i - line >= width && blank != std::string::npos) {
      text[blank] = '\n';
      line = blank + 1;
      blank = std::string::npos;
    }
  }
  return text;
}

// Lists each command by its first sentence alone, and keeps every line on an 80-column screen.
class HelpFormatter : public CLI::Formatter {
 public:
  HelpFormatter() { column_width(name_columns); }
  std::string make_subcommand(CLI::App const* command) const override {
    std::string const about_it = command->get_description();
    std::ostringstream text;
    CLI::detail::format_help(text,
                             command->get_name(),
                             wrapped(about_it.substr(0, about_it.find('\n')), text_columns),
                             name_columns);
    return text.str();
  }
  std::string make_option_opts(CLI::Option const* option) const override {
    bool const takes = !option->get_lnames().empty() && option->get_type_size() != 0;
    std::string text = takes ? ' ' + value_name(*option) : "";
    if (option->get_expected_max() > 1) text += " ...";
    if (option->get_required()) text += " (needed)";
    return text;
  }
  std::string make_option_desc(CLI::Option const* option) const override {
    std::string text = option->get_description();
    // That it goes with one other option, or without; the other one need not list all of them.
    if (option->get_excludes().size() == 1)
      text += "; not with " + (*option->get_excludes().begin())->get_name();
    if (option->get_needs().size() == 1)
      text += "; with " + (*option->get_needs().begin())->get_name();
    return wrapped(text, text_columns);
  }

 private:
  static constexpr std::size_t text_columns = help_columns - name_columns;
};

void add_commands([[maybe_unused]] CLI::App& app, [[maybe_unused]] int& status) {
  add_adapt_command(app, status);
  add_predict_command(app, status);
  add_diff_command(app, status);
  add_inspect_command(app, status);
  add_profile_command(app, status);
  add_calibrate_command(app, status);
  add_causes_command(app, status);
  add_builds_command(app, status);
  add_compare_command(app, status);
  add_documents_command(app, status);
}

// The parsed subcommands in the order typed, after the program's name: "meltlag profile check".
// One without a group is but an old name.
std::string command_typed(CLI::App const& app) {
  std::string words = app.get_name();
  for (CLI::App const* command = &app; !command->get_subcommands().empty();) {
    command = command->get_subcommands().front();
    if (command->get_group().empty()) break;
    words += ' ' + command->get_name();
  }
  return words;
}

// `diff` keeps 1 for files that differ.
int error_status(CLI::App const& app) {
  return command_typed(app) == "meltlag diff" ? exit_no_verdict : exit_bad_input;
}

int fail(CLI::App const& app, char const* message) {
  std::fflush(stdout);
  std::fprintf(stderr, "%s %s\n", bold("meltlag:", Stream::err).c_str(), message);
  return error_status(app);
}

// Help and version are asked for through exceptions as well: their status is 0.
int explain(CLI::App const& app, CLI::ParseError const& error) {
  if (error.get_exit_code() == 0) {
    int const asked = app.exit(error);
    flush_stdout();
    return asked;
  }
  std::string message = error.what();
  bool const unknown = app.get_subcommands().empty() && app.remaining_size() > 0;
  if (unknown) message = "there is no command or option '" + app.remaining().front() + "'";
  std::fprintf(stderr,
               "meltlag: %s\nType `%s --help` for what there is.\n",
               message.c_str(),
               command_typed(app).c_str());
  return exit_bad_usage;
}

// After a double click the window closes with the program: said before it does.
int introduce() {
  print(std::string("meltlag " MELTLAG_VERSION) + meltlag_commit + "\n" + about + R"(

This program is typed, not clicked. Open its folder, click into the address
bar at the top, type cmd and press Enter. In the window that opens type
    meltlag --help
README.html beside the program begins at the beginning.

Press any key to close this window.
)");
  flush_stdout();
  system::wait_for_key();
  return exit_bad_usage;
}

int run(CLI::App& app, int const& status, int count, char const* const* words) try {
  try {
    ProgressDisplay display;
    WatchProgress const watch(display);
    app.parse(count, words);
    flush_stdout();
    return status;
  } catch (CLI::ParseError const& error) {
    return explain(app, error);
  }
} catch (StdoutClosed const&) {
  return exit_done;
} catch (Error const& error) {
  return fail(app, error.what());
} catch (std::system_error const& error) {
  if (error.code() == std::errc::broken_pipe) return exit_done;
  return fail(app, error.what());
} catch (std::bad_alloc const&) {
  return fail(app, "there is not enough memory");
} catch (std::exception const& error) {
  // Caught so that what was begun is cleaned up.
  std::string const what = std::string("a fault of the program itself: ") + error.what() +
                           "\nNothing was written. Please report this to the makers of Meltlag.";
  return fail(app, what.c_str());
}

}  // namespace
}  // namespace meltlag::cli

int main(int count, char** words) {
  meltlag::cli::set_up_streams();
  int status = meltlag::cli::exit_done;
  CLI::App app{meltlag::cli::about, "meltlag"};
  app.set_version_flag("--version",
                       std::string("meltlag " MELTLAG_VERSION) + meltlag_commit,
                       "Show the version and end");
  app.set_help_flag("-h,--help", "Show this text and end");
  app.require_subcommand(1);
  app.formatter(std::make_shared<meltlag::cli::HelpFormatter>());
  meltlag::cli::add_commands(app, status);
  std::vector<std::string> const arguments = meltlag::system::arguments(count, words);
  if (arguments.size() == 1 && meltlag::system::has_own_console()) return meltlag::cli::introduce();
  std::vector<char const*> given;
  for (std::string const& argument : arguments) given.push_back(argument.c_str());
  return meltlag::cli::run(app, status, static_cast<int>(given.size()), given.data());
}
