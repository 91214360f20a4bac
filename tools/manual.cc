#include "tools/manual.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

namespace aircut::tools {
namespace {

constexpr char kManualExamples[] =
    "Examples:\n"
    "  aircut manual | man -l -\n"
    "  aircut manual > /usr/local/share/man/man1/aircut.1";
constexpr char kCompletionExamples[] =
    "Examples:\n"
    "  source <(aircut completion)                                          # this shell\n"
    "  aircut completion > ~/.local/share/bash-completion/completions/aircut";

std::vector<const CLI::App*> VerbsOf(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App* verb) { return !verb->get_name().empty(); });
}

std::vector<const CLI::Option*> OptionsOf(const CLI::App& app) { return app.get_options({}); }

// A backslash, a dot or a quote at the start of a line and a hyphen mean something to roff.
std::string Roff(const std::string& text) {
  std::string safe;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool starts_line = i == 0 || text[i - 1] == '\n';
    if (starts_line && (text[i] == '.' || text[i] == '\'')) safe += "\\&";
    if (text[i] == '\\') {
      safe += "\\e";
    } else if (text[i] == '-') {
      safe += "\\-";
    } else {
      safe += text[i];
    }
  }
  return safe;
}

bool IsPositional(const CLI::Option& option) { return option.get_positional(); }

// "--out DIR", or the word in place of a positional.
std::string Spelled(const CLI::Option& option) {
  if (IsPositional(option)) return option.get_type_name();
  const std::string type = option.get_type_size() > 0 ? option.get_type_name() : "";
  return option.get_name(false, true) + (type.empty() ? "" : " " + type);
}

std::string OptionRoff(const CLI::Option& option) {
  return fmt::format(".TP\n.B {}\n{}\n", Roff(Spelled(option)), Roff(option.get_description()));
}

std::string Synopsis(const CLI::App& verb) {
  std::string line = fmt::format("aircut {}", verb.get_name());
  for (const CLI::Option* option : OptionsOf(verb)) {
    if (IsPositional(*option)) line += " " + option->get_type_name();
  }
  return line + " [OPTION]...";
}

std::string VerbRoff(const CLI::App& verb) {
  std::string page = fmt::format(".SS {}\n{}\n.PP\n{}.\n", Roff(verb.get_name()), Roff(Synopsis(verb)), Roff(verb.get_description()));
  for (const CLI::Option* option : OptionsOf(verb)) page += OptionRoff(*option);
  return page + fmt::format(".PP\n.nf\n{}\n.fi\n", Roff(verb.get_footer()));
}

// What an option takes, as the shell completes it.
const char* Action(const CLI::Option& option) {
  const std::string type = option.get_type_size() > 0 ? option.get_type_name() : "";
  if (type == "DIR") return "folder";
  return type.find('.') != std::string::npos ? "file" : type.empty() ? "none" : "value";
}

std::string Joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : " ") + word;
  return text;
}

std::string VerbCase(const CLI::App& verb) {
  std::vector<std::string> words, folders, files, values;
  std::string positional = "none";
  for (const CLI::Option* option : OptionsOf(verb)) {
    const std::string action = Action(*option);
    if (IsPositional(*option)) {
      positional = action;
      continue;
    }
    const std::string name = option->get_name(false, true);
    // "-h,--help": both spellings.
    for (std::size_t from = 0; from <= name.size();) {
      const std::size_t comma = std::min(name.find(',', from), name.size());
      words.push_back(name.substr(from, comma - from));
      if (action == "folder") folders.push_back(words.back());
      if (action == "file") files.push_back(words.back());
      if (action == "value") values.push_back(words.back());
      from = comma + 1;
    }
  }
  return fmt::format("    {}) words='{}' folders=' {} ' files=' {} ' values=' {} ' positional={} ;;\n", verb.get_name(), Joined(words),
                     Joined(folders), Joined(files), Joined(values), positional);
}

const CLI::App* RootOf(const CLI::App* app) {
  while (app->get_parent() != nullptr) app = app->get_parent();
  return app;
}

}  // namespace

std::string ManualPage(const CLI::App& app) {
  std::string page = fmt::format(".TH AIRCUT 1 \"\" \"aircut {}\" \"User Commands\"\n.SH NAME\naircut \\- {}\n.SH SYNOPSIS\n", AIRCUT_VERSION,
                                 Roff(app.get_description()));
  for (const CLI::App* verb : VerbsOf(app)) page += fmt::format("{}\n.br\n", Roff(Synopsis(*verb)));
  page += ".SH OPTIONS\n";
  for (const CLI::Option* option : OptionsOf(app)) page += OptionRoff(*option);
  page += ".SH VERBS\n";
  for (const CLI::App* verb : VerbsOf(app)) page += VerbRoff(*verb);
  page += fmt::format(".SH NOTES\n.nf\n{}\n.fi\n", Roff(app.get_footer()));
  return page + ".SH ENVIRONMENT\n.TP\n.B NO_COLOR\nset to anything: no colours, on a terminal too\n";
}

std::string BashCompletion(const CLI::App& app) {
  std::vector<std::string> verbs;
  std::string cases;
  for (const CLI::App* verb : VerbsOf(app)) {
    verbs.push_back(verb->get_name());
    cases += VerbCase(*verb);
  }
  return fmt::format(R"(# bash completion for aircut; made by `aircut completion`
_aircut() {{
  local cur=${{COMP_WORDS[COMP_CWORD]}} prev=${{COMP_WORDS[COMP_CWORD-1]}} words folders files values positional
  COMPREPLY=()
  if [ "$COMP_CWORD" -eq 1 ]; then
    COMPREPLY=($(compgen -W '{0} --help --version' -- "$cur"))
    return
  fi
  case ${{COMP_WORDS[1]}} in
{1}    *) return ;;
  esac
  local kind=$positional
  case $folders in *" $prev "*) kind=folder ;; esac
  case $files in *" $prev "*) kind=file ;; esac
  case $values in *" $prev "*) return ;; esac
  if [ "${{cur#-}}" != "$cur" ]; then
    COMPREPLY=($(compgen -W "$words" -- "$cur"))
    return
  fi
  compopt -o filenames 2>/dev/null
  case $kind in
    folder) COMPREPLY=($(compgen -d -- "$cur")) ;;
    file) COMPREPLY=($(compgen -f -- "$cur")) ;;
  esac
}}
complete -F _aircut aircut
)", Joined(verbs), cases);
}

void AddManualVerbs(CLI::App& app, ExitCode& code) {
  CLI::App* manual = app.add_subcommand("manual", "print the manual page");
  manual->footer(kManualExamples);
  manual->callback([manual, &code] {
    fmt::print("{}", ManualPage(*RootOf(manual)));
    code = kExitPass;
  });
  CLI::App* completion = app.add_subcommand("completion", "print the completion script for bash");
  completion->footer(kCompletionExamples);
  completion->callback([completion, &code] {
    fmt::print("{}", BashCompletion(*RootOf(completion)));
    code = kExitPass;
  });
}

}  // namespace aircut::tools
