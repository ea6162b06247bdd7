// What somebody at a silent port needs to see: link opened, settings, what was sent, what was rejected. The library says
// it here and does not know where it goes; the command line sends it to stderr (`--log`). Without a listener nothing is
// put together at all.
#pragma once

#include <functional>
#include <string>
#include <string_view>

namespace switchwright {

enum class LogLevel { debug, info, warn };

using LogListener = std::function<void(LogLevel, const std::string&)>;

/// Where log lines go; an empty listener turns them off. Set once, before the loop runs.
void listen_to_log(LogListener listener);

/// One line for the log. @param line makes the text; called only when somebody listens.
void log(LogLevel level, const std::function<std::string()>& line);

/// Bytes as a log shows them: text where all of it is text (line ends as \r \n), else hex; at most 48 bytes.
std::string log_bytes(std::string_view bytes);

}  // namespace switchwright
