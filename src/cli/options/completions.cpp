#include "cli/options/completions.hpp"

#include <CLI/CLI.hpp>
#include <functional>
#include <vector>

namespace switchwright::cli {

namespace {

std::vector<const CLI::App*> below(const CLI::App& app) {
  std::vector<const CLI::App*> shown;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; }))
    if (!command->get_group().empty()) shown.push_back(command);
  return shown;
}

/// Visits the table depth first; the path is "" for the program itself, then "meters own add".
void each_command(const CLI::App& app, const std::string& path,
                  const std::function<void(const CLI::App&, const std::string&)>& visit) {
  visit(app, path);
  for (const CLI::App* command : below(app))
    each_command(*command, path.empty() ? command->get_name() : path + " " + command->get_name(), visit);
}

std::vector<std::string> spellings(const CLI::Option& option) {
  std::vector<std::string> all;
  for (const std::string& name : option.get_snames()) all.push_back("-" + name);
  for (const std::string& name : option.get_lnames()) all.push_back("--" + name);
  return all;
}

/// Options that take a value; files and the like are then completed by the shell.
bool takes_value(const CLI::Option& option) { return option.get_items_expected_max() > 0; }

std::string joined(const std::vector<std::string>& words) {
  std::string all;
  for (const std::string& word : words) all += (all.empty() ? "" : " ") + word;
  return all;
}

std::string with(std::string text, const std::string& what, const std::string& instead) {
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += instead.size())
    text.replace(at, what.size(), instead);
  return text;
}

std::string shell_quoted(const std::string& text) { return "'" + with(text, "'", "'\\''") + "'"; }

/// The words so far, options and their values left out, are the path; what may follow is looked up by it.
std::string bash(const CLI::App& app) {
  std::string table, values;
  each_command(app, "", [&](const CLI::App& command, const std::string& path) {
    std::vector<std::string> words;
    for (const CLI::App* one : below(command)) words.push_back(one->get_name());
    for (const CLI::Option* option : command.get_options())
      for (const std::string& name : spellings(*option)) {
        words.push_back(name);
        if (takes_value(*option)) values += " " + name;
      }
    table += "    " + shell_quoted(path) + ") words=" + shell_quoted(joined(words)) + " ;;\n";
  });
  return "# bash completion for switchwright, made from its option table\n"
         "_switchwright() {\n"
         "  local current=${COMP_WORDS[COMP_CWORD]} path= next words= i word takes=" +
         shell_quoted(values + " ") +
         "\n"
         "  for ((i = 1; i < COMP_CWORD; ++i)); do\n"
         "    word=${COMP_WORDS[i]}\n"
         "    case $word in\n"
         "      -*) [[ $takes == *\" $word \"* ]] && ((++i)) ;;\n"
         "      *) next=\"${path:+$path }$word\"; _switchwright_words \"$next\" && path=$next ;;\n"
         "    esac\n"
         "  done\n"
         "  COMPREPLY=()\n"
         "  # The value of an option is a file or a word of the person's own.\n"
         "  [[ ${COMP_WORDS[COMP_CWORD-1]} == -* && $takes == *\" ${COMP_WORDS[COMP_CWORD-1]} \"* ]] && { COMPREPLY=($(compgen -f -- \"$current\")); return; }\n"
         "  _switchwright_words \"$path\"\n"
         "  COMPREPLY=($(compgen -W \"$words\" -- \"$current\"))\n"
         "}\n"
         "_switchwright_words() {\n"
         "  case $1 in\n" +
         table +
         "    *) return 1 ;;\n"
         "  esac\n"
         "}\n"
         "complete -o default -F _switchwright switchwright\n";
}

std::string zsh(const CLI::App& app) {
  std::string table;
  each_command(app, "", [&](const CLI::App& command, const std::string& path) {
    std::string words;
    const auto add = [&words](const std::string& name, const std::string& what) {
      words += " " + shell_quoted(with(name, ":", "\\:") + ":" + with(what, "\n", " "));
    };
    for (const CLI::App* one : below(command)) add(one->get_name(), one->get_description());
    for (const CLI::Option* option : command.get_options())
      for (const std::string& name : spellings(*option)) add(name, option->get_description());
    table += "    " + shell_quoted(path) + ") all=(" + words + ") ;;\n";
  });
  return "#compdef switchwright\n"
         "# made from switchwright's option table\n"
         "_switchwright_all() {\n"
         "  case $1 in\n" +
         table +
         "    *) return 1 ;;\n"
         "  esac\n"
         "}\n"
         "_switchwright() {\n"
         "  local -a all\n"
         "  local path_so_far= next word\n"
         "  for word in ${words[2,CURRENT-1]}; do\n"
         "    [[ $word == -* ]] && continue\n"
         "    next=\"${path_so_far:+$path_so_far }$word\"\n"
         "    _switchwright_all $next && path_so_far=$next\n"
         "  done\n"
         "  _switchwright_all $path_so_far\n"
         "  _describe switchwright all\n"
         "  [[ ${words[CURRENT]} == -* ]] || _files\n"
         "}\n"
         "_switchwright \"$@\"\n";
}

std::string fish(const CLI::App& app) {
  std::string lines = "# fish completion for switchwright, made from its option table\n";
  each_command(app, "", [&](const CLI::App& command, const std::string& path) {
    std::vector<std::string> names;
    for (const CLI::App* one : below(command)) names.push_back(one->get_name());
    std::string when;
    if (path.empty()) {
      when = "__fish_use_subcommand";
    } else {
      for (std::size_t at = 0, to = 0; at <= path.size(); at = to + 1) {
        to = std::min(path.find(' ', at), path.size());
        when += (when.empty() ? "" : "; and ") + std::string{"__fish_seen_subcommand_from "} + path.substr(at, to - at);
      }
      if (!names.empty()) when += "; and not __fish_seen_subcommand_from " + joined(names);
    }
    const std::string start = "complete -c switchwright -n " + shell_quoted(when);
    for (const CLI::App* one : below(command))
      lines += start + " -f -a " + shell_quoted(one->get_name()) + " -d " + shell_quoted(one->get_description()) + "\n";
    for (const CLI::Option* option : command.get_options()) {
      if (spellings(*option).empty()) continue;
      lines += start;
      for (const std::string& name : option->get_snames()) lines += " -s " + name;
      for (const std::string& name : option->get_lnames()) lines += " -l " + name;
      lines += (takes_value(*option) ? " -r" : "") + std::string{" -d "} +
               shell_quoted(with(option->get_description(), "\n", " ")) + "\n";
    }
  });
  return lines;
}

/// Text as roff: a line must not begin with a dot or a quote, and a hyphen of an option is a minus.
std::string roff(std::string text) {
  text = with(with(text, "\\", "\\e"), "-", "\\-");
  std::string safe;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t to = std::min(text.find('\n', at), text.size());
    const std::string line = text.substr(at, to - at);
    safe += (line.starts_with(".") || line.starts_with("'") ? "\\&" : "") + line + "\n";
    at = to + 1;
  }
  return safe;
}

std::string man(const CLI::App& app) {
  // No date: the same table gives the same page, wherever and whenever it is built.
  std::string page = ".TH SWITCHWRIGHT 1 \"\" \"switchwright " SWITCHWRIGHT_VERSION
                     "\" \"User Commands\"\n"
                     ".SH NAME\nswitchwright \\- proves a switch good or bad with a multimeter\n"
                     ".SH SYNOPSIS\n.B switchwright\n.I COMMAND\n.RI [ options ]\n"
                     ".SH DESCRIPTION\n" +
                     roff(with(app.get_description(), "\n\n", "\n")) + ".SH COMMANDS\n";
  each_command(app, "", [&](const CLI::App& command, const std::string& path) {
    if (!path.empty()) page += ".SS " + roff(path) + roff(command.get_description());
    for (const CLI::Option* option : command.get_options()) {
      const auto names = spellings(*option);
      std::string head;
      for (const std::string& name : names) head += (head.empty() ? "" : ", ") + name;
      if (names.empty()) head = option->get_name();
      if (takes_value(*option) && !names.empty()) head += " " + option->get_type_name();
      page += ".TP\n.B " + roff(head) +
              roff(option->get_description().empty() ? "(no more to say)" : option->get_description());
    }
  });
  page += ".SH EXIT STATUS\n" + roff(app.get_footer());
  page +=
      ".SH ENVIRONMENT\n.TP\n.B SWITCHWRIGHT_STORE\nThe record store, where \\-\\-store is not given.\n"
      ".TP\n.B XDG_DATA_HOME, XDG_CONFIG_HOME\nWhere the store, own definitions and the bench's choices are.\n"
      ".SH FILES\n.TP\n.I /usr/share/switchwright/meters, /usr/share/switchwright/profiles\n"
      "Meter definitions and part profiles.\n";
  return page;
}

}  // namespace

std::string in_other_form(const CLI::App& app, const std::string& form) {
  if (form == "bash") return bash(app);
  if (form == "zsh") return zsh(app);
  return form == "fish" ? fish(app) : man(app);
}

}  // namespace switchwright::cli
