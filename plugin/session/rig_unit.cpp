// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/rig_unit.hpp"

#include <fmt/format.h>

#include <optional>

#include "decoders/method/uncertainty.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

// value = scale * handed out + offset
struct Line {
  double scale = 1, offset = 0;
};

class Settling {
 public:
  Settling(const SourceChannel& channel, const Rig::Channel& entry, const Rig& rig,
           const std::string& file)
      : channel_(channel), rig_(rig), file_(file) {
    out_.entry = entry;
  }
  RigUnit settled() {
    const bool pressure = dimension_of(entry().role) == Dimension::kPressure;
    entry().absolute = entry().absolute || (pressure && channel_.absolute);
    const Line raw = entry().unit.empty() ? by_file() : by_rig();
    if (raw.scale != 1 || raw.offset != 0) {
      const double scale = entry().scale.value_or(1);
      entry().scale = scale * raw.scale;
      entry().offset += scale * raw.offset;
    }
    if (entry().absolute) to_gauge();
    return std::move(out_);
  }

 private:
  Rig::Channel& entry() { return out_.entry; }
  [[noreturn]] void refuse(const std::string& what, const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, file_, fmt::format("channel '{}'", channel_.name),
                     what, mend);
  }
  void expect_fit(const Unit& unit, const std::string& text) {
    if (unit.dimension == Dimension::kTime || !fits(unit.dimension, entry()))
      refuse(fmt::format("its unit {} does not fit the role {}", text, name_of(entry().role)),
             fmt::format("correct the unit or the role, or give a scale in the rig ({} per {})",
                         unit_of(entry().role), base_unit(unit.dimension)));
  }
  [[noreturn]] void refuse_unknown(const std::string& text) const {
    refuse(fmt::format("its unit '{}' is not known", text),
           fmt::format("known are {}; or give a scale and an offset in the rig instead",
                       known_units()));
  }

  // The file's unit, which the source has applied; a scale in the rig is of what the file writes.
  Line by_file() {
    const auto of_file = parse_unit(channel_.unit);
    const char* const base = unit_of(entry().role);
    const bool scaled = entry().scale && *entry().scale != 1;
    if (channel_.unit.empty()) {
      out_.words = scaled ? fmt::format("{:.6g} {} per unit", *entry().scale, base)
                          : fmt::format("taken as {}", base);
      return {};
    }
    if (!of_file && !entry().scale && entry().role != Role::COMMAND_LEVEL)
      refuse_unknown(channel_.unit);
    if (of_file) {
      expect_fit(*of_file, channel_.unit);
      entry().absolute = entry().absolute || of_file->absolute;
    }
    out_.words = fmt::format("{} as the file says", channel_.unit);
    if (!scaled) return of_file ? not_yet_applied(*of_file) : Line{};
    out_.words = fmt::format("{:.6g} {} per {}", *entry().scale, base, channel_.unit);
    if (channel_.unit_scale == 1 && channel_.unit_offset == 0) return {};
    out_.remark = fmt::format(
        "channel '{0}': the rig's scale is taken per {1}, as the file writes the values; if it is "
        "meant to come on top of the unit, say unit: \"{1}\" in the rig",
        channel_.name, channel_.unit);
    return undone();
  }

  // Recordings and instruments hand out what they have, with its unit beside it.
  [[nodiscard]] Line not_yet_applied(const Unit& unit) const {
    const bool applied = channel_.unit_scale != 1 || channel_.unit_offset != 0;
    return applied || unit.dimension != dimension_of(out_.entry.role)
               ? Line{}
               : Line{unit.scale, unit.offset};
  }

  Line by_rig() {
    const auto of_rig = parse_unit(entry().unit);
    if (!of_rig) refuse_unknown(entry().unit);
    expect_fit(*of_rig, entry().unit);
    entry().absolute = entry().absolute || of_rig->absolute;
    out_.words = fmt::format("{} as the rig says", entry().unit);
    if (!channel_.unit.empty() && channel_.unit != entry().unit)
      out_.words += fmt::format(" (the file says {})", channel_.unit);
    const Line raw = undone();
    return {of_rig->scale * raw.scale, of_rig->scale * raw.offset + of_rig->offset};
  }

  // Back to what the file writes.
  [[nodiscard]] Line undone() const {
    return {1 / channel_.unit_scale, -channel_.unit_offset / channel_.unit_scale};
  }

  void to_gauge() {
    if (entry().role != Role::LINE_PRESSURE && entry().role != Role::BRANCH_PRESSURE)
      refuse(fmt::format("{} is said to be absolute", name_of(entry().role)),
             "only pressures are: take absolute (or the unit's a) out");
    out_.words += ", absolute";
    if (rig_.ambient_kpa <= 0) {
      entry().auto_zero = true;
      out_.words += ", the first 0.2 s taken as ambient";
      return;
    }
    // The offset stands before the sign, the ambient pressure is taken off after it.
    entry().offset -= (entry().invert ? -1 : 1) * rig_.ambient_kpa;
    entry().u_abs = combine(entry().u_abs, rig_.ambient_u_kpa);
    out_.words += fmt::format(", ambient {:.6g} kPa", rig_.ambient_kpa);
  }

  const SourceChannel& channel_;
  const Rig& rig_;
  const std::string& file_;
  RigUnit out_;
};

}  // namespace

RigUnit settle_unit(const SourceChannel& channel, const Rig::Channel& entry, const Rig& rig,
                    const std::string& file) {
  return Settling(channel, entry, rig, file).settled();
}

bool fits(Dimension dimension, const Rig::Channel& entry) {
  return dimension == dimension_of(entry.role) || entry.role == Role::COMMAND_LEVEL ||
         entry.scale.has_value();
}

}  // namespace airlatch
