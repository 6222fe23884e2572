// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/units.hpp"

#include <algorithm>
#include <array>
#include <cctype>

namespace airlatch {
namespace {

constexpr double kGravity = 9.80665;
constexpr double kPsi_kpa = 0.45359237 * kGravity / (0.0254 * 0.0254) / 1000;
constexpr double kMercury = 13595.1;  // kg/m3
constexpr double kMmHg_kpa = kMercury * kGravity * 0.001 / 1000;
constexpr double kTorr_kpa = 101.325 / 760;
constexpr double kKgfCm2_kpa = kGravity * 10;
constexpr double kMmWater_kpa = kGravity / 1000;  // of 1000 kg/m3: the conventional column

struct Row {
  std::string_view name;
  Dimension dimension;
  double scale;
  double offset = 0;
};

// Whole names, looked up in lower case, after "exp-2" signs and blanks within were made one.
constexpr std::array kNames = {Row{"psi", Dimension::kPressure, kPsi_kpa},
                               Row{"lb/in2", Dimension::kPressure, kPsi_kpa},
                               Row{"lbs/in2", Dimension::kPressure, kPsi_kpa},
                               Row{"lbf/in2", Dimension::kPressure, kPsi_kpa},
                               Row{"ksi", Dimension::kPressure, 1000 * kPsi_kpa},
                               Row{"inhg", Dimension::kPressure, kMmHg_kpa * 25.4},
                               Row{"in.hg", Dimension::kPressure, kMmHg_kpa * 25.4},
                               Row{"inchhg", Dimension::kPressure, kMmHg_kpa * 25.4},
                               Row{"\"hg", Dimension::kPressure, kMmHg_kpa * 25.4},
                               Row{"''hg", Dimension::kPressure, kMmHg_kpa * 25.4},
                               Row{"mmhg", Dimension::kPressure, kMmHg_kpa},
                               Row{"cmhg", Dimension::kPressure, 10 * kMmHg_kpa},
                               Row{"torr", Dimension::kPressure, kTorr_kpa},
                               Row{"mtorr", Dimension::kPressure, kTorr_kpa / 1000},
                               Row{"atm", Dimension::kPressure, 101.325},
                               Row{"at", Dimension::kPressure, kKgfCm2_kpa},
                               Row{"kgf/cm2", Dimension::kPressure, kKgfCm2_kpa},
                               Row{"kg/cm2", Dimension::kPressure, kKgfCm2_kpa},
                               Row{"kp/cm2", Dimension::kPressure, kKgfCm2_kpa},
                               Row{"kgf/m2", Dimension::kPressure, kMmWater_kpa},
                               Row{"mmh2o", Dimension::kPressure, kMmWater_kpa},
                               Row{"mmws", Dimension::kPressure, kMmWater_kpa},
                               Row{"mmwc", Dimension::kPressure, kMmWater_kpa},
                               Row{"mmca", Dimension::kPressure, kMmWater_kpa},
                               Row{"cmh2o", Dimension::kPressure, 10 * kMmWater_kpa},
                               Row{"cmws", Dimension::kPressure, 10 * kMmWater_kpa},
                               Row{"mh2o", Dimension::kPressure, 1000 * kMmWater_kpa},
                               Row{"mws", Dimension::kPressure, 1000 * kMmWater_kpa},
                               Row{"mca", Dimension::kPressure, 1000 * kMmWater_kpa},
                               Row{"inh2o", Dimension::kPressure, 25.4 * kMmWater_kpa},
                               Row{"in.h2o", Dimension::kPressure, 25.4 * kMmWater_kpa},
                               Row{"\"h2o", Dimension::kPressure, 25.4 * kMmWater_kpa},
                               Row{"inwc", Dimension::kPressure, 25.4 * kMmWater_kpa},
                               Row{"inwg", Dimension::kPressure, 25.4 * kMmWater_kpa},
                               Row{"\"wc", Dimension::kPressure, 25.4 * kMmWater_kpa},
                               Row{"fth2o", Dimension::kPressure, 304.8 * kMmWater_kpa},
                               Row{"dyn/cm2", Dimension::kPressure, 0.0001},
                               Row{"n/m2", Dimension::kPressure, 0.001},
                               Row{"n/mm2", Dimension::kPressure, 1000},
                               Row{"mbar", Dimension::kPressure, 0.1},
                               Row{"bar", Dimension::kPressure, 100},
                               Row{"kpa", Dimension::kPressure, 1},
                               Row{"hpa", Dimension::kPressure, 0.1},
                               Row{"mpa", Dimension::kPressure, 1000},
                               Row{"pa", Dimension::kPressure, 0.001},
                               Row{"pascal", Dimension::kPressure, 0.001},
                               Row{"°c", Dimension::kTemperature, 1},
                               Row{"\u00bac", Dimension::kTemperature, 1},
                               Row{"\u2103", Dimension::kTemperature, 1},
                               Row{"degc", Dimension::kTemperature, 1},
                               Row{"deg.c", Dimension::kTemperature, 1},
                               Row{"celsius", Dimension::kTemperature, 1},
                               Row{"c", Dimension::kTemperature, 1},
                               Row{"k", Dimension::kTemperature, 1, -273.15},
                               Row{"kelvin", Dimension::kTemperature, 1, -273.15},
                               Row{"°f", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"\u00baf", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"degf", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"deg.f", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"fahrenheit", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"volt", Dimension::kVoltage, 1},
                               Row{"volts", Dimension::kVoltage, 1},
                               Row{"millivolt", Dimension::kVoltage, 0.001},
                               Row{"millivolts", Dimension::kVoltage, 0.001},
                               Row{"amp", Dimension::kCurrent, 1},
                               Row{"amps", Dimension::kCurrent, 1},
                               Row{"ampere", Dimension::kCurrent, 1},
                               Row{"amperes", Dimension::kCurrent, 1},
                               Row{"milliamp", Dimension::kCurrent, 0.001},
                               Row{"milliamps", Dimension::kCurrent, 0.001}};

// Times have no capital prefixes that anyone means: "MS" is milliseconds.
constexpr std::array kTimes = {Row{"s", Dimension::kTime, 1},
                               Row{"sec", Dimension::kTime, 1},
                               Row{"secs", Dimension::kTime, 1},
                               Row{"second", Dimension::kTime, 1},
                               Row{"seconds", Dimension::kTime, 1},
                               Row{"sek", Dimension::kTime, 1},
                               Row{"sekunde", Dimension::kTime, 1},
                               Row{"sekunden", Dimension::kTime, 1},
                               Row{"seconde", Dimension::kTime, 1},
                               Row{"secondes", Dimension::kTime, 1},
                               Row{"seconden", Dimension::kTime, 1},
                               Row{"segundo", Dimension::kTime, 1},
                               Row{"segundos", Dimension::kTime, 1},
                               Row{"secondi", Dimension::kTime, 1},
                               Row{"secondo", Dimension::kTime, 1},
                               Row{"seg", Dimension::kTime, 1},
                               Row{"sekundy", Dimension::kTime, 1},
                               Row{"ms", Dimension::kTime, 1e-3},
                               Row{"msec", Dimension::kTime, 1e-3},
                               Row{"msecs", Dimension::kTime, 1e-3},
                               Row{"millis", Dimension::kTime, 1e-3},
                               Row{"millisec", Dimension::kTime, 1e-3},
                               Row{"millisecond", Dimension::kTime, 1e-3},
                               Row{"milliseconds", Dimension::kTime, 1e-3},
                               Row{"millisekunden", Dimension::kTime, 1e-3},
                               Row{"millisecondes", Dimension::kTime, 1e-3},
                               Row{"milisegundos", Dimension::kTime, 1e-3},
                               Row{"millisecondi", Dimension::kTime, 1e-3},
                               Row{"milliseconden", Dimension::kTime, 1e-3},
                               Row{"milissegundos", Dimension::kTime, 1e-3},
                               Row{"milisekundy", Dimension::kTime, 1e-3},
                               Row{"us", Dimension::kTime, 1e-6},
                               Row{"\u00b5s", Dimension::kTime, 1e-6},
                               Row{"\u03bcs", Dimension::kTime, 1e-6},
                               Row{"usec", Dimension::kTime, 1e-6},
                               Row{"\u00b5sec", Dimension::kTime, 1e-6},
                               Row{"micros", Dimension::kTime, 1e-6},
                               Row{"microsec", Dimension::kTime, 1e-6},
                               Row{"microsecond", Dimension::kTime, 1e-6},
                               Row{"microseconds", Dimension::kTime, 1e-6},
                               Row{"mikrosekunden", Dimension::kTime, 1e-6},
                               Row{"ns", Dimension::kTime, 1e-9},
                               Row{"nsec", Dimension::kTime, 1e-9},
                               Row{"nanos", Dimension::kTime, 1e-9},
                               Row{"nanosecond", Dimension::kTime, 1e-9},
                               Row{"nanoseconds", Dimension::kTime, 1e-9},
                               Row{"min", Dimension::kTime, 60},
                               Row{"mins", Dimension::kTime, 60},
                               Row{"minute", Dimension::kTime, 60},
                               Row{"minutes", Dimension::kTime, 60},
                               Row{"minuten", Dimension::kTime, 60},
                               Row{"minutos", Dimension::kTime, 60},
                               Row{"minuti", Dimension::kTime, 60},
                               Row{"minut", Dimension::kTime, 60},
                               Row{"h", Dimension::kTime, 3600},
                               Row{"hr", Dimension::kTime, 3600},
                               Row{"hrs", Dimension::kTime, 3600},
                               Row{"hour", Dimension::kTime, 3600},
                               Row{"hours", Dimension::kTime, 3600},
                               Row{"std", Dimension::kTime, 3600},
                               Row{"stunde", Dimension::kTime, 3600},
                               Row{"stunden", Dimension::kTime, 3600},
                               Row{"heures", Dimension::kTime, 3600},
                               Row{"horas", Dimension::kTime, 3600},
                               Row{"ore", Dimension::kTime, 3600},
                               Row{"uur", Dimension::kTime, 3600},
                               Row{"godz", Dimension::kTime, 3600},
                               Row{"d", Dimension::kTime, 86400},
                               Row{"day", Dimension::kTime, 86400},
                               Row{"days", Dimension::kTime, 86400},
                               Row{"tage", Dimension::kTime, 86400},
                               Row{"jours", Dimension::kTime, 86400},
                               Row{"dias", Dimension::kTime, 86400},
                               Row{"giorni", Dimension::kTime, 86400},
                               Row{"dagen", Dimension::kTime, 86400},
                               Row{"dni", Dimension::kTime, 86400}};

// Units of what no role measures: a channel in them is no fault. In lower case.
constexpr std::array kOthers = {
    "ohm",     "ohms",    "\u03c9",  "\u2126", "kohm",    "k\u03c9",  "k\u2126", "mohm",
    "m\u03c9", "m\u2126", "hz",      "khz",    "mhz",     "ghz",      "rpm",     "u/min",
    "1/min",   "min-1",   "1/s",     "w",      "kw",      "mw",       "va",      "var",
    "kva",     "wh",      "kwh",     "j",      "kj",      "%",        "%rh",     "rh",
    "% rh",    "%rf",     "l/min",   "lpm",    "slpm",    "sccm",     "nl/min",  "l/s",
    "l/h",     "ml/min",  "ml/s",    "m3/h",   "m3/s",    "cfm",      "l",       "ml",
    "cm3",     "m3",      "n",       "kn",     "nm",      "mn",       "n*m",     "g",
    "kg",      "mg",      "t",       "lb",     "lbf",     "m",        "mm",      "cm",
    "um",      "\u00b5m", "in",      "inch",   "ft",      "m/s",      "km/h",    "m/s2",
    "m/s^2",   "rad",     "rad/s",   "deg",    "\u00b0",  "\u00b0/s", "deg/s",   "lux",
    "lx",      "ppm",     "ppb",     "db",     "dba",     "dbm",      "dbv",     "f",
    "nf",      "uf",      "\u00b5f", "pf",     "mf",      "uh",       "mh",      "\u00b5h",
    "coulomb", "counts",  "count",   "cnt",    "adc",     "lsb",      "bit",     "bits",
    "raw",     "ah",      "mah",     "tesla",  "mt",      "gauss",    "-",       "--",
    "*",       "none",    "n/a",     "logic",  "bool",    "arb",      "a.u.",    "unitless",
    "1",       "mv/v",    "v/v",     "vrms/v", "siemens", "ms/cm",    "us/cm",   "\u00b5s/cm",
    "ph",      "ntu",     "w/m2",    "index"};

// Bases that take an SI prefix.
constexpr std::array kBases = {Row{"Pa", Dimension::kPressure, 0.001},
                               Row{"bar", Dimension::kPressure, 100},
                               Row{"V", Dimension::kVoltage, 1},
                               Row{"v", Dimension::kVoltage, 1},
                               Row{"A", Dimension::kCurrent, 1},
                               Row{"a", Dimension::kCurrent, 1},
                               Row{"Volt", Dimension::kVoltage, 1},
                               Row{"volt", Dimension::kVoltage, 1},
                               Row{"Torr", Dimension::kPressure, kTorr_kpa}};

std::optional<double> prefix(std::string_view text) {
  if (text.empty()) return 1;
  if (text == "m") return 1e-3;
  if (text == "u" || text == "\u00b5" || text == "\u03bc") return 1e-6;
  if (text == "n") return 1e-9;
  if (text == "k" || text == "K") return 1e3;
  if (text == "M") return 1e6;
  if (text == "h") return 1e2;
  return std::nullopt;
}

// Without blanks, and with one way to write a square.
std::string plain_name(std::string_view text) {
  std::string out;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] == ' ' || text[at] == '^') continue;
    if (text.substr(at).starts_with("\u00b2")) {
      out += '2';
      ++at;
    } else if (text.substr(at).starts_with("\u2082")) {  // H2O with its index set low
      out += '2';
      at += 2;
    } else {
      out += text[at];
    }
  }
  return out;
}

std::string lower_case(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

std::optional<Unit> find(const std::string& name) {
  const std::string lower = lower_case(name);
  for (const Row& row : kTimes)
    if (lower == row.name) return Unit{row.dimension, row.scale, row.offset};
  for (const Row& row : kNames)
    if (lower == row.name && name != "mPa") return Unit{row.dimension, row.scale, row.offset};
  for (const Row& row : kBases)
    if (name.ends_with(row.name))
      if (const auto factor =
              prefix(std::string_view(name).substr(0, name.size() - row.name.size())))
        return Unit{row.dimension, row.scale * *factor, 0};
  return std::nullopt;
}

bool take_end(std::string& name, std::string_view lower_end) {
  if (name.size() <= lower_end.size() || !lower_case(name).ends_with(lower_end)) return false;
  name.resize(name.size() - lower_end.size());
  return true;
}

}  // namespace

std::optional<Unit> parse_unit(std::string_view text) {
  std::string name = plain_name(text);
  if (const auto unit = find(name)) return unit;
  // "V DC AUTO", "A RMS", "kPa abs", "bar(g)", "psia".
  while (take_end(name, "auto") || take_end(name, "hold")) {
  }
  for (const char* const end : {"dc", "ac", "rms", "+"}) take_end(name, end);
  if (const auto unit = find(name)) return unit;
  for (const char* const end :
       {"(abs.)", "(abs)", "(absolute)", "(a)", "absolute", "abs.", "abs", "a"})
    if (std::string rest = name; take_end(rest, end))
      if (auto unit = find(rest); unit && unit->dimension == Dimension::kPressure) {
        unit->absolute = true;
        return unit;
      }
  for (const char* const end :
       {"(gauge)", "(rel.)", "(rel)", "(g)", "gauge", "rel.", "rel", "diff", "g"})
    if (std::string rest = name; take_end(rest, end))
      if (const auto unit = find(rest); unit && unit->dimension == Dimension::kPressure)
        return unit;
  return std::nullopt;
}

bool is_other_unit(std::string_view text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  std::string lower = lower_case(std::string(text));
  for (std::size_t at = lower.find("\u03a9"); at != std::string::npos; at = lower.find("\u03a9"))
    lower.replace(at, 2, "\u03c9");  // a capital of another alphabet
  return std::find(kOthers.begin(), kOthers.end(), lower) != kOthers.end();
}

const char* known_units() {
  return "V, A, Pa, bar with SI prefixes; psi, psia, kgf/cm2, at, atm, inHg, mmHg, Torr, inH2O, "
         "cmH2O, mmH2O, mWS; degC, degF, K";
}

Dimension dimension_of(Role role) {
  switch (role) {
    case Role::MOTOR_CURRENT:
      return Dimension::kCurrent;
    case Role::LINE_PRESSURE:
    case Role::BRANCH_PRESSURE:
      return Dimension::kPressure;
    case Role::AIR_TEMPERATURE:
      return Dimension::kTemperature;
    case Role::UNSPECIFIED:
    case Role::SUPPLY_VOLTAGE:
    case Role::FEED_A_VOLTAGE:
    case Role::FEED_B_VOLTAGE:
    case Role::RETURN_VOLTAGE:
    case Role::COMMAND_LEVEL:
    case Role::FUSE_VOLTAGE:
      break;
  }
  return Dimension::kVoltage;
}

const char* unit_of(Role role) { return base_unit(dimension_of(role)); }

const char* base_unit(Dimension dimension) {
  switch (dimension) {
    case Dimension::kCurrent:
      return "A";
    case Dimension::kPressure:
      return "kPa";
    case Dimension::kTemperature:
      return "°C";
    case Dimension::kTime:
      return "s";
    case Dimension::kVoltage:
      break;
  }
  return "V";
}

}  // namespace airlatch
