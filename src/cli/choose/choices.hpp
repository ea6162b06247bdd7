// What the command line leaves open is asked for in a terminal, the last answer first; bench.toml remembers. Without a
// terminal it is an error that names the option.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright::cli {

class Choices {
 public:
  /// Reads bench.toml; a broken one is said and left alone.
  Choices();

  /// Offers to look which meter is plugged in; the port that it was found at is then not asked for.
  MeterDefinition meter(const std::string& given);
  std::string port(const std::string& given);
  Profile profile(const std::string& given);
  /// Free text; without a terminal it stays empty.
  std::string text(const std::string& key, const std::string& question, const std::string& given);
  std::string last(const std::string& key) const;
  /// Empty: forgets it.
  void set(const std::string& key, const std::string& value);
  /// Writes the answers back for the next time.
  void remember();
  bool asked() const { return asked_; }
  /// What was answered last, by its key in bench.toml.
  const std::map<std::string, std::string>& last() const { return last_; }

 private:
  std::string choose(const std::string& key, const std::string& option, const std::string& question,
                     std::vector<std::string> offers, const std::vector<std::string>& comments);

  template <class Load>
  auto chosen(const std::string& key, const std::string& option, const std::string& question,
              const std::vector<std::string>& offers, const std::vector<std::string>& comments, const Load& load)
      -> decltype(load(std::string{}));

  std::map<std::string, std::string> last_;
  std::string found_port_;  ///< where the meter that was looked for answered
  bool asked_ = false;
};

struct PluggedMeter {
  std::string meter;  ///< definition id
  std::string port;
};
/// Listens at every port that may be listened to; the best candidate when one is good. Says what it does as it goes.
std::optional<PluggedMeter> find_plugged_meter();

/// A word that is no id but nearly the name of a command below `of` was meant as that. @throws Error(usage) then.
void refuse_near_command(const std::string& word, const std::vector<std::string>& ids,
                         const std::vector<std::string>& commands, const std::string& of);

/// One line from the person. @throws Error(interrupted) at the end of input.
std::string ask_line(const std::string& prompt);

}  // namespace switchwright::cli
