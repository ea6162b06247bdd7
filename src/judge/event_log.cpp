#include "switchwright/judge/event_log.hpp"

namespace switchwright {

void CycleEventLog::add(const CycleEvent& event) {
  ++count_;
  if (first_.size() < most_kept) first_.push_back(event);
}

void CycleEventLog::clear() {
  first_.clear();
  count_ = 0;
}

}  // namespace switchwright
