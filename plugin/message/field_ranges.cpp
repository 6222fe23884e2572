// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/field_ranges.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "plugin/message/fields.hpp"

namespace airlatch {
namespace {

// Far beyond what instruments and pumps give, so near to nothing that no arithmetic overflows.
constexpr double kHuge = 1e12;
constexpr double kName = 1000, kPath = 4096, kProse = 4000;  // bytes
constexpr double kEntries = 10'000;

constexpr std::array kRanges = {
    FieldRange{"Rig", "name", 0, kName, "shorten it"},
    FieldRange{"Rig", "channel", 0, kEntries, "keep those that the capture has"},
    FieldRange{"Rig", "line_volume_ml", 0, 1e7, "give it in millilitres, or leave it out"},
    FieldRange{"Rig", "line_volume_u_ml", 0, 1e7, "give it in millilitres, or leave it out"},
    FieldRange{"Rig", "commutator_segments", 0, 1000, "count them, or leave it out"},
    FieldRange{"Rig", "ripples_per_turn", 0, 100'000, "count them, or leave it out"},
    FieldRange{"Rig", "nominal_voltage_v", 0, 1000, "give it in volts, or leave it out for 12 V"},
    FieldRange{"Rig.Channel", "source", 1, kName, "name the capture's channel: source: \"CH1\""},
    FieldRange{"Rig.Channel", "role", 1, 0,
               "say what it measures, for example role: LINE_PRESSURE"},
    FieldRange{"Rig.Channel", "scale", -kHuge, kHuge,
               "give the role's unit per raw unit, for example scale: 10"},
    FieldRange{"Rig.Channel", "offset", -kHuge, kHuge, "give it in the role's unit"},
    FieldRange{"Rig.Channel", "range_min", -kHuge, kHuge,
               "give the sensor's lower limit in the role's unit, or leave it out"},
    FieldRange{"Rig.Channel", "range_max", -kHuge, kHuge,
               "give the sensor's upper limit in the role's unit, or leave it out"},
    FieldRange{"Rig.Channel", "u_abs", 0, kHuge,
               "give the instrument's standard uncertainty in the role's unit"},
    FieldRange{"Rig.Channel", "u_rel", 0, 1,
               "give it as a share of the value: 0.005 is half a per cent"},
    FieldRange{"Rig.Channel", "unit", 0, 64,
               "name the raw values' unit, for example unit: \"psi\""},
    FieldRange{"Rig.Channel", "lag_s", 0, 60, "give the sensor's time constant in seconds"},
    FieldRange{"Rig.Channel", "lag_u_s", 0, 60, "give it in seconds"},
    FieldRange{"Rig.Channel", "average_s", 0, 60, "give it in seconds"},
    FieldRange{"TextLayout", "skip_lines", 0, 1e9, "count the lines before the header"},
    FieldRange{"TextLayout", "time_column", 0, kName, "name the column, or give its number"},
    FieldRange{"TextLayout", "time_unit", 0, 64, "s, ms, us, ns, min, h or d"},
    FieldRange{"Rig", "swept_volume_ml", 0, 1e7, "give it in millilitres, or leave it out"},
    FieldRange{"Rig", "ambient_kpa", 0, 200, "give the air pressure in kPa, or leave it out"},
    FieldRange{"Rig", "ambient_u_kpa", 0, 200, "give it in kPa"},
    FieldRange{"Plan", "name", 0, kName, "shorten it"},
    FieldRange{"Plan", "response_limit_s", 1e-3, 3600, "0.3 is the default"},
    FieldRange{"Plan", "run_limit_s", 1e-3, 86'400, "15 is the default"},
    FieldRange{"Plan", "step", 0, kEntries, "split the plan"},
    FieldRange{"Plan", "branch", 0, kEntries, "keep those that the line has"},
    FieldRange{"Plan.Step", "id", 0, kName, "shorten it"},
    FieldRange{"Plan.Step", "title", 0, kProse, "shorten it"},
    FieldRange{"Plan.Step", "prompt", 0, kProse, "shorten it"},
    FieldRange{"Plan.Step", "expect", 1, 0,
               "say what ends the step, for example expect: STALL_CUTOFF"},
    FieldRange{"Plan.Step", "limit", 0, kEntries, "keep those that count"},
    FieldRange{"Plan.Limit", "measure", 1, kName, "name what is limited: measure: \"run_time\""},
    FieldRange{"Plan.Limit", "min", -kHuge, kHuge,
               "give it in the measure's unit, or leave it out"},
    FieldRange{"Plan.Limit", "max", -kHuge, kHuge,
               "give it in the measure's unit, or leave it out"},
    FieldRange{"Job", "vehicle", 0, kName, "shorten it"},
    FieldRange{"Job", "job_number", 0, kName, "shorten it"},
    FieldRange{"Job", "date", 0, 10, "write it as in date: \"2026-03-14\""},
    FieldRange{"Job", "capture", 0, kEntries, "split the job"},
    FieldRange{"Job", "garage", 0, kName, "shorten it"},
    FieldRange{"Job", "customer", 0, kName, "shorten it"},
    FieldRange{"Job", "technician", 0, kName, "shorten it"},
    FieldRange{"Job", "odometer", 0, kName, "write it as it reads: odometer: \"182 340 km\""},
    FieldRange{"Job", "remark", 0, 100, "keep those that the customer needs"},
    FieldRange{"Job.Capture", "file", 1, kPath, "name it: file: \"before.sr\""},
    FieldRange{"Job.Capture", "step", 0, kName, "give a step's id"},
    FieldRange{"Job.Capture", "closed_branch", 0, kName, "name the branches that were closed"},
    FieldRange{"Job.Capture", "rig", 0, kPath, "name a rig file: rig: \"bench.rig\""},
};

const FieldRange* range_of(std::string_view message, std::string_view field) {
  const auto* const at = std::find_if(kRanges.begin(), kRanges.end(), [&](const FieldRange& row) {
    return row.message == message && row.field == field;
  });
  return at == kRanges.end() ? nullptr : &*at;
}

class FieldWalk {
 public:
  explicit FieldWalk(bool with_ranges) : with_ranges_(with_ranges) {}
  template <MessageType Message>
  void message(const Message& one) {
    const std::string_view name = Fields<Message>::kName.substr(sizeof("airlatch.v1.") - 1);
    Fields<Message>::each(one, [&](int, const char* field, const auto& value) {
      path_.emplace_back(field, 0);
      check(with_ranges_ ? range_of(name, field) : nullptr, value);
      path_.pop_back();
    });
  }

 private:
  // `row` is null for a field of a report.
  void check(const FieldRange* row, double value) {
    if (!row && !std::isfinite(value))
      throw FieldError(path_, fmt::format("{} is {}", path_.back().first, value), "");
    // Written so that what is not a number is refused, too.
    if (!row || (value >= row->least && value <= row->most)) return;
    refuse(*row, fmt::format("{} is {:.6g}, which is not within {:.6g} to {:.6g}", row->field,
                             value, row->least, row->most));
  }
  template <std::integral Number>
  void check(const FieldRange* row, Number value) {
    if constexpr (!std::same_as<Number, bool>) check(row, static_cast<double>(value));
  }
  void check(const FieldRange* row, const std::string& text) {
    if (!row) return;
    if (text.empty() && row->least > 0) refuse(*row, fmt::format("{} must be given", row->field));
    if (static_cast<double>(text.size()) > row->most)
      refuse(*row, fmt::format("{} has {} bytes, and {} are the most", row->field, text.size(),
                               row->most));
  }
  template <EnumType Enum>
  void check(const FieldRange* row, Enum value) {
    const auto number = static_cast<int>(value);
    if (number == 0 && row && row->least > 0)
      refuse(*row, fmt::format("{} must be given", row->field));
    if (number >= 0 && number < static_cast<int>(EnumNames<Enum>::kAll.size())) return;
    std::string known;
    for (std::size_t k = 1; k < EnumNames<Enum>::kAll.size(); ++k)
      known += (k > 1 ? ", " : "") + std::string(EnumNames<Enum>::kAll[k]);
    throw FieldError(path_, fmt::format("{} has no value {}", path_.back().first, number),
                     "the values are " + known);
  }
  template <MessageType Message>
  void check(const FieldRange*, const Message& one) {
    message(one);
  }
  template <typename T>
  void check(const FieldRange* row, const std::optional<T>& value) {
    if (value) check(row, *value);
  }
  template <typename T>
  void check(const FieldRange* row, const std::vector<T>& values) {
    if (row && static_cast<double>(values.size()) > row->most)
      refuse(*row, fmt::format("{} stands {} times, and {} are the most", row->field, values.size(),
                               row->most));
    // Its row is about their number; no list of numbers or texts is written by users yet.
    for (const T& value : values) {
      check(nullptr, value);
      ++path_.back().second;
    }
  }
  [[noreturn]] void refuse(const FieldRange& row, const std::string& what) const {
    throw FieldError(path_, what, std::string(row.mend));
  }

  bool with_ranges_;
  FieldPath path_;
};

}  // namespace

std::span<const FieldRange> field_ranges() { return kRanges; }

template <typename Message>
void check_fields(const Message& message) {
  FieldWalk(!std::same_as<Message, Report>).message(message);
}

template void check_fields(const Rig&);
template void check_fields(const Plan&);
template void check_fields(const Job&);
template void check_fields(const Report&);

}  // namespace airlatch
