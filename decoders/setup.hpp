// SPDX-License-Identifier: GPL-3.0-or-later
// setup.hpp: what decoding needs to know: the rig and the plan.
//
// Plain structs of the messages in proto/airlatch/v1/setup.proto, field for field, names kept.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "decoders/event.hpp"

namespace airlatch {

// What a channel measures, and its unit after scaling.
enum class Role : int {
  UNSPECIFIED,
  SUPPLY_VOLTAGE,   // V, at the source terminals
  FEED_A_VOLTAGE,   // V, at pump contact A
  FEED_B_VOLTAGE,   // V, at pump contact B
  RETURN_VOLTAGE,   // V, pump ground contact against the source's negative terminal
  MOTOR_CURRENT,    // A, signed where the probe is
  LINE_PRESSURE,    // kPa gauge, at the pump's port
  BRANCH_PRESSURE,  // kPa gauge, at the far end of a branch
  AIR_TEMPERATURE,  // degrees Celsius, near the line
  COMMAND_LEVEL,    // V or logic, the line that asks for a direction
  FUSE_VOLTAGE,     // V, behind this circuit's fuse, against the source's negative terminal
};
template <>
struct EnumNames<Role> {
  static constexpr std::array<std::string_view, 11> kAll = {
      "ROLE_UNSPECIFIED", "SUPPLY_VOLTAGE", "FEED_A_VOLTAGE", "FEED_B_VOLTAGE",
      "RETURN_VOLTAGE",   "MOTOR_CURRENT",  "LINE_PRESSURE",  "BRANCH_PRESSURE",
      "AIR_TEMPERATURE",  "COMMAND_LEVEL",  "FUSE_VOLTAGE"};
};
constexpr std::size_t kRoles = EnumNames<Role>::kAll.size();

// The order in which a file writes its dates; UNSPECIFIED: told from the whole file.
enum class DateOrder : int { UNSPECIFIED, DAY_MONTH_YEAR, MONTH_DAY_YEAR, YEAR_MONTH_DAY };
template <>
struct EnumNames<DateOrder> {
  static constexpr std::array<std::string_view, 4> kAll = {
      "DATE_ORDER_UNSPECIFIED", "DAY_MONTH_YEAR", "MONTH_DAY_YEAR", "YEAR_MONTH_DAY"};
};

enum class DecimalMark : int { UNSPECIFIED, POINT, COMMA };
template <>
struct EnumNames<DecimalMark> {
  static constexpr std::array<std::string_view, 3> kAll = {"DECIMAL_UNSPECIFIED", "POINT", "COMMA"};
};

// What delimited text means where the file itself does not tell.
struct TextLayout {
  std::uint32_t skip_lines = 0;  // lines before the header or the first row of numbers
  std::string time_column = {};  // the column's name, or its number counted from 1
  std::string time_unit = {};    // "s", "ms", "us", "ns", "min", "h", "d"
  DateOrder date_order = DateOrder::UNSPECIFIED;
  DecimalMark decimal = DecimalMark::UNSPECIFIED;
  friend bool operator==(const TextLayout&, const TextLayout&) = default;
};

// Which instrument channel measures what. Quantity = scale * raw + offset, then sign, then zero.
struct Rig {
  struct Channel {
    std::string source = {};  // the channel's name in the capture, any case
    Role role = Role::UNSPECIFIED;
    std::optional<double> scale = {};      // role unit per raw unit; default 1, never 0
    double offset = 0;                     // role unit
    bool invert = false;                   // the probe is mounted backwards
    bool auto_zero = false;                // learn the zero while the motor is off
    std::optional<double> range_min = {};  // role unit; a sample at or beyond it is CLIPPED
    std::optional<double> range_max = {};  // role unit
    double u_abs = 0;                      // standard uncertainty of the instrument, role unit
    double u_rel = 0;                      // standard uncertainty of the instrument, relative
    std::string unit = {};                 // of the raw values, instead of the file's
    bool absolute = false;                 // the sensor reads absolute pressure
    double lag_s = 0;                      // the sensor's time constant
    double lag_u_s = 0;                    // standard uncertainty
    double average_s = 0;  // each reading is a mean over that long, ending at its time
    friend bool operator==(const Channel&, const Channel&) = default;
  };
  std::string name = {};
  std::vector<Channel> channel = {};
  Direction contact_a_direction = Direction::UNKNOWN;  // UNKNOWN: learnt from the pressure
  double line_volume_ml = 0;                           // 0: unknown, so no leak rate
  double line_volume_u_ml = 0;                         // standard uncertainty
  std::uint32_t commutator_segments = 0;               // 0: unknown, so no shaft speed
  // Ripples of the current per shaft turn; 0: the least common multiple of two brushes and the
  // segments. Published rules differ for an odd count, so it can be set.
  std::uint32_t ripples_per_turn = 0;
  double nominal_voltage_v = 0;  // 0: 12 V
  // Ambient pressure for absolute sensors; 0: learnt from the rest before the first run.
  double ambient_kpa = 0;
  double ambient_u_kpa = 0;             // standard uncertainty
  std::optional<TextLayout> text = {};  // nothing: told from the file
  // The most by which actuators change the volume between their ends. Unset: two fifths of it; 0:
  // there are none, as at a pump alone.
  std::optional<double> swept_volume_ml = {};
  friend bool operator==(const Rig&, const Rig&) = default;
};

struct Plan {
  struct Limit {
    std::string measure = {};
    std::optional<double> min = {};
    std::optional<double> max = {};
    friend bool operator==(const Limit&, const Limit&) = default;
  };
  struct Step {
    std::string id = {};
    std::string title = {};
    std::string prompt = {};
    Kind expect = Kind::UNSPECIFIED;
    Direction direction = Direction::UNKNOWN;
    std::vector<Limit> limit = {};
    friend bool operator==(const Step&, const Step&) = default;
  };
  std::string name = {};
  std::optional<double> response_limit_s = {};  // default 0.3
  std::optional<double> run_limit_s = {};       // default 15
  std::vector<Step> step = {};
  std::vector<std::string> branch = {};  // that a job may close; none: any
  friend bool operator==(const Plan&, const Plan&) = default;
};

}  // namespace airlatch
