// Many records of one part: what moves from week to week, from supplier to supplier, from lot to lot.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// What one finished record adds. Absent: it says nothing of that.
struct TrendPoint {
  std::string record_id;
  Wall started{};
  std::string week;      ///< "2026-W09" (ISO 8601), as the bench's calendar showed it
  std::string supplier;  ///< may be empty, as may be the lot
  std::string lot;
  std::string outcome;
  std::string fault_kind;             ///< "stuck-closed", of the most probable explanation; empty: none
  std::optional<double> contact_ohm;  ///< the largest of the closed contacts, leads subtracted
  std::optional<double> heater_ohm;   ///< of the first element that was read by itself
  std::optional<double> duty;         ///< of the load, the steady part where there is one
  std::optional<double> period_s;
};
/// What a finished trace says about the load: the steady part where there is one. Absent: it says nothing of that.
struct TimedFigures {
  std::string position;
  std::optional<double> duty, duty_U, period_s, period_U_s;  ///< U expanded, as the summary gives it
};
TimedFigures timed_figures(const Record& record);

/// Nothing for a record that is unfinished, broken or practice.
std::optional<TrendPoint> trend_point(const Record& record, const std::string& fault);

/// ISO 8601 week of a local day.
std::string iso_week(Wall wall, int utc_offset_min);

struct TrendFigure {
  std::size_t count = 0;
  double mean = 0.0, min = 0.0, max = 0.0;
  std::optional<double> sd;  ///< of two or more
};
struct TrendGroup {
  std::string name;
  std::size_t records = 0, failed = 0, undecided = 0;
  std::optional<TrendFigure> contact_ohm, heater_ohm, duty, period_s;
  std::map<std::string, std::size_t> faults;  ///< kind to count
};
enum class TrendBy { week, supplier, lot };
/// Weeks in their order; suppliers and lots by name, "not stated" last.
std::vector<TrendGroup> trend_groups(const std::vector<TrendPoint>& points, TrendBy by);

}  // namespace switchwright
