// One settled reading at a time from a meter, for commands that ask and wait in turn.
#pragma once

#include <memory>
#include <string>

#include "switchwright/core/loop.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/judge/indication.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::cli {

class SettledReader {
 public:
  /// The loop runs inside take() only. @param hands "person" or sim:SOCKET. @throws Error(meter) when the port does not open, Error(usage) for other hands.
  SettledReader(Loop& loop, const MeterDefinition& meter, const std::string& port, const std::string& hands,
                double settle_s);
  ~SettledReader();
  SettledReader(const SettledReader&) = delete;
  SettledReader& operator=(const SettledReader&) = delete;

  bool person() const;
  /// Waits until a reading of the arrangement's quantity has settled. @throws Error(meter) when none does within 30 s, with
  /// the reason of the last one that could not be used; Error(interrupted) for Ctrl-C.
  Indication take(const Arrangement& arrangement);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace switchwright::cli
