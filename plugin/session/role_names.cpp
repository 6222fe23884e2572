// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/role_names.hpp"

#include <algorithm>
#include <array>
#include <string_view>

#include "plugin/session/rig_match.hpp"
#include "plugin/sources/text_words.hpp"

namespace airlatch {
namespace {

// Stems of five letters and more may stand anywhere ("Batteriespannung"), shorter ones are words.
constexpr std::size_t kStem = 5;

template <typename Meaning>
struct Word {
  std::string_view text;
  Meaning meaning;
};

constexpr auto kCurrent = Dimension::kCurrent, kPressure = Dimension::kPressure;
constexpr auto kVoltage = Dimension::kVoltage, kTemperature = Dimension::kTemperature;
constexpr auto kDimensions = std::to_array<Word<Dimension>>({
    {"current", kCurrent},
    {"strom", kCurrent},
    {"courant", kCurrent},
    {"intensite", kCurrent},
    {"corriente", kCurrent},
    {"intensidad", kCurrent},
    {"corrente", kCurrent},
    {"stroom", kCurrent},
    {"natezenie", kCurrent},
    {"prad", kCurrent},
    {"ampere", kCurrent},
    {"amperage", kCurrent},
    {"amps", kCurrent},
    {"amp", kCurrent},
    {"shunt", kCurrent},
    {"clamp", kCurrent},
    {"zange", kCurrent},
    {"i", kCurrent},
    {"imot", kCurrent},
    {"im", kCurrent},
    {"ia", kCurrent},
    {"pressure", kPressure},
    {"druck", kPressure},
    {"pression", kPressure},
    {"presion", kPressure},
    {"pressione", kPressure},
    {"druk", kPressure},
    {"pressao", kPressure},
    {"cisnienie", kPressure},
    {"vacuum", kPressure},
    {"vakuum", kPressure},
    {"vide", kPressure},
    {"vacio", kPressure},
    {"vuoto", kPressure},
    {"press", kPressure},
    {"manometer", kPressure},
    {"p", kPressure},
    {"p1", kPressure},
    {"p2", kPressure},
    {"temperature", kTemperature},
    {"temperatur", kTemperature},
    {"temperatura", kTemperature},
    {"temperatuur", kTemperature},
    {"temp", kTemperature},
    {"thermo", kTemperature},
    {"voltage", kVoltage},
    {"spannung", kVoltage},
    {"tension", kVoltage},
    {"voltaje", kVoltage},
    {"tensione", kVoltage},
    {"spanning", kVoltage},
    {"tensao", kVoltage},
    {"napiecie", kVoltage},
    {"volt", kVoltage},
    {"volts", kVoltage},
    {"u", kVoltage},
    {"u1", kVoltage},
    {"u2", kVoltage},
    {"ubat", kVoltage},
    {"vbat", kVoltage},
});

constexpr auto kRoleWords = std::to_array<Word<Role>>({
    {"batter", Role::SUPPLY_VOLTAGE},
    {"bater", Role::SUPPLY_VOLTAGE},
    {"akku", Role::SUPPLY_VOLTAGE},
    {"accu", Role::SUPPLY_VOLTAGE},
    {"akumulator", Role::SUPPLY_VOLTAGE},
    {"supply", Role::SUPPLY_VOLTAGE},
    {"versorgung", Role::SUPPLY_VOLTAGE},
    {"bordnetz", Role::SUPPLY_VOLTAGE},
    {"alimentation", Role::SUPPLY_VOLTAGE},
    {"alimentacion", Role::SUPPLY_VOLTAGE},
    {"alimentazione", Role::SUPPLY_VOLTAGE},
    {"voeding", Role::SUPPLY_VOLTAGE},
    {"alimentacao", Role::SUPPLY_VOLTAGE},
    {"zasilanie", Role::SUPPLY_VOLTAGE},
    {"vbat", Role::SUPPLY_VOLTAGE},
    {"ubat", Role::SUPPLY_VOLTAGE},
    {"bat", Role::SUPPLY_VOLTAGE},
    {"kl30", Role::SUPPLY_VOLTAGE},
    {"fuse", Role::FUSE_VOLTAGE},
    {"sicherung", Role::FUSE_VOLTAGE},
    {"fusible", Role::FUSE_VOLTAGE},
    {"fusibile", Role::FUSE_VOLTAGE},
    {"zekering", Role::FUSE_VOLTAGE},
    {"fusivel", Role::FUSE_VOLTAGE},
    {"bezpiecznik", Role::FUSE_VOLTAGE},
    {"return", Role::RETURN_VOLTAGE},
    {"ground", Role::RETURN_VOLTAGE},
    {"gnd", Role::RETURN_VOLTAGE},
    {"masse", Role::RETURN_VOLTAGE},
    {"masa", Role::RETURN_VOLTAGE},
    {"massa", Role::RETURN_VOLTAGE},
    {"kl31", Role::RETURN_VOLTAGE},
    {"retour", Role::RETURN_VOLTAGE},
    {"command", Role::COMMAND_LEVEL},
    {"befehl", Role::COMMAND_LEVEL},
    {"commande", Role::COMMAND_LEVEL},
    {"schalter", Role::COMMAND_LEVEL},
    {"switch", Role::COMMAND_LEVEL},
    {"interrupt", Role::COMMAND_LEVEL},
    {"branch", Role::BRANCH_PRESSURE},
    {"zweig", Role::BRANCH_PRESSURE},
    {"ramal", Role::BRANCH_PRESSURE},
    {"dramo", Role::BRANCH_PRESSURE},
});

// A contact by its letter or number, behind a word for what is fed there.
constexpr auto kContacts = std::to_array<std::string_view>(
    {"feed", "contact", "kontakt", "contacto", "contatto", "styk", "pin", "terminal", "klemme",
     "borne", "borna", "morsetto", "drive", "speisung", "motor", "pump", "pumpe", "out", "coil"});

constexpr auto kOthers = std::to_array<std::string_view>(
    {"setpoint",  "sollwert", "consigne",    "consigna", "target", "error",     "fehler",
     "erreur",    "tacho",    "drehzahl",    "speed",    "rpm",    "vitesse",   "velocidad",
     "velocita",  "flow",     "durchfluss",  "debit",    "caudal", "portata",   "pwm",
     "duty",      "anomaly",  "changepoint", "status",   "state",  "mode",      "acceler",
     "vibration", "humid",    "feuchte",     "travel",   "force",  "position",  "angle",
     "power",     "leistung", "energy",      "energie",  "watt",   "frequency", "frequenz",
     "encoder",   "adc",      "raw",         "volume",   "level"});

bool stands_in(const std::string& name, std::string_view word) {
  for (std::size_t at = name.find(word); at != std::string::npos; at = name.find(word, at + 1)) {
    const bool begins = at == 0 || name[at - 1] == ' ';
    const std::size_t end = at + word.size();
    if (word.size() >= kStem || (begins && (end == name.size() || name[end] == ' '))) return true;
  }
  return false;
}

template <typename Meaning, std::size_t kN>
std::optional<Meaning> find(const std::string& name, const std::array<Word<Meaning>, kN>& words) {
  std::optional<Meaning> found;
  std::size_t longest = 0;
  for (const auto& [text, meaning] : words)
    if (text.size() > longest && stands_in(name, text)) {
      found = meaning;
      longest = text.size();
    }
  return found;
}

// "feed a", "contact 2", "motor b v".
std::optional<Role> contact_of(const std::string& name) {
  const bool fed = std::any_of(kContacts.begin(), kContacts.end(),
                               [&](std::string_view word) { return stands_in(name, word); });
  if (!fed) return std::nullopt;
  for (const auto& [mark, role] : {std::pair{"a", Role::FEED_A_VOLTAGE},
                                   {"b", Role::FEED_B_VOLTAGE},
                                   {"1", Role::FEED_A_VOLTAGE},
                                   {"2", Role::FEED_B_VOLTAGE}})
    if (stands_in(name, mark)) return role;
  return std::nullopt;
}

}  // namespace

NameSays what_name_says(const std::string& name) {
  NameSays says;
  const std::string plain = folded(name);
  for (int r = 1; r < static_cast<int>(kRoles); ++r)
    if (plain == folded(default_name(static_cast<Role>(r)))) says.role = static_cast<Role>(r);
  if (says.role) {
    says.dimension = dimension_of(*says.role);
    return says;
  }
  says.dimension = find(plain, kDimensions);
  // A unit is the last word: "p_kpa", "motor a" not: a letter alone may be a contact's.
  const std::string last = plain.substr(plain.rfind(' ') + 1);
  if (last.size() > 1 && last != plain && !is_other_unit(last))
    if (const auto unit = parse_unit(last); unit && unit->dimension != Dimension::kTime) {
      says.dimension = unit->dimension;
      says.unit = last;
    }
  says.other = std::any_of(kOthers.begin(), kOthers.end(),
                           [&](std::string_view word) { return stands_in(plain, word); }) ||
               means(plain, Meaning::kIndex);
  if (says.other) return says;
  says.role = find(plain, kRoleWords);
  if (says.role && says.dimension && dimension_of(*says.role) != *says.dimension)
    says.role.reset();  // "battery current"
  if (!says.role && (!says.dimension || says.dimension == Dimension::kVoltage))
    says.role = contact_of(plain);
  if (!says.role && says.dimension == Dimension::kCurrent) says.role = Role::MOTOR_CURRENT;
  if (says.role && !says.dimension) says.dimension = dimension_of(*says.role);
  return says;
}

}  // namespace airlatch
