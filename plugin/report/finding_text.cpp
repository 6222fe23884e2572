// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/finding_text.hpp"

#include <algorithm>
#include <array>
#include <string_view>

#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

constexpr const char* kTight = translatable("whether the line is tight");
constexpr const char* kMotor = translatable("the motor");

// THE ROWS. Findings that the rules do not know yet are those of the contract.
constexpr std::array kRows = {
    FindingText{"SOUND", translatable("Pump and air line do what they should."),
                translatable("Nothing is to be repaired in what was tested."), ""},
    FindingText{
        "NOT_ENOUGH_TESTED",
        translatable("What was tested is not enough to say what is wrong, or that nothing is."),
        translatable("The test has to be completed before any part is replaced."), ""},
    FindingText{"SOURCE_DEAD",
                translatable("The battery, or what feeds the pump, gives too little voltage."),
                translatable("The source has to be charged or replaced, and the test repeated."),
                translatable("the source")},
    FindingText{"FUSE_OPEN", translatable("The fuse of the door locks' pump is open."),
                translatable("The fuse has to be replaced, and the reason found why it opened."),
                translatable("the fuse")},
    FindingText{
        "FUSE_RESISTANCE", translatable("The fuse of the pump, or its holder, makes poor contact."),
        translatable("The fuse's holder has to be cleaned or replaced."), translatable("the fuse")},
    FindingText{"FEED_RESISTANCE", translatable("The wiring to the pump has too much resistance."),
                translatable("The contacts and connectors to the pump have to be cleaned."),
                translatable("the wiring to the pump")},
    FindingText{"RETURN_RESISTANCE",
                translatable("The pump's ground connection has too much resistance."),
                translatable("The ground connection has to be cleaned."),
                translatable("the ground connection")},
    FindingText{"CONTACT_INTERMITTENT",
                translatable("A contact in the wiring is loose: it breaks while the pump runs."),
                translatable("The loose contact has to be found and fastened."),
                translatable("loose contacts")},
    FindingText{"MOTOR_OPEN",
                translatable("The pump's motor takes no current in either direction."),
                translatable("The pump has to be opened or replaced."), kMotor},
    FindingText{"MOTOR_SEIZED", translatable("The pump's motor does not turn."),
                translatable("The pump has to be freed or replaced."), kMotor},
    FindingText{"MOTOR_WORN", translatable("The pump's motor is worn: its brushes or its winding."),
                translatable("The motor's brushes and commutator have to be looked at."), kMotor},
    FindingText{"CHANGEOVER_STUCK",
                translatable("The pump does not change over to its other direction."),
                translatable("The pump's changeover has to be freed, or the pump replaced."),
                translatable("the pump's changeover")},
    FindingText{
        "CUTOFF_MISSING",
        translatable("The pump does not stop by itself when its pressure is reached."),
        translatable("The pump's pressure switch has to be repaired; it must not stay fed."),
        translatable("whether the pump stops by itself")},
    FindingText{"PUMP_WEAK", translatable("The pump does not reach its pressure."),
                translatable("The pump has to be tested alone; low there too, it is worn."),
                translatable("the strength of the pump")},
    FindingText{"LINE_LEAK", translatable("The air line of the door locks leaks."),
                translatable("The leak has to be found, branch by branch, and mended."), kTight},
    FindingText{
        "LEAK_PRESSURE_SIDE", translatable("The air line leaks when air is blown in."),
        translatable(
            "A hose end that is pushed off, or a torn diaphragm, has to be found and mended."),
        kTight},
    FindingText{"LEAK_VACUUM_SIDE", translatable("The air line leaks when air is sucked out."),
                translatable(
                    "A crack that opens inwards, or a torn diaphragm, has to be found and mended."),
                kTight},
    FindingText{"LINE_BLOCKED", translatable("The air does not get through the line."),
                translatable("A kinked or blocked hose has to be found."),
                translatable("whether the air gets through the line")},
    FindingText{"ACTUATOR_LEAK", translatable("An actuator leaks."),
                translatable("The actuator's diaphragm, or the actuator, has to be replaced."),
                translatable("the actuators alone")},
    FindingText{"ACTUATOR_STUCK", translatable("An actuator is stuck."),
                translatable("The actuator has to be freed or replaced."),
                translatable("the actuators alone")},
};
constexpr FindingText kUnknown = {
    "", translatable("The finding is one that this version of the program does not know."), "", ""};

constexpr bool every_finding_has_its_text() {
  for (const std::string_view code : EnumNames<FindingCode>::kAll)
    if (std::none_of(kRows.begin(), kRows.end(),
                     [&](const FindingText& row) { return code == row.code; }))
      return false;
  return true;
}
static_assert(every_finding_has_its_text(), "each finding needs its row");

}  // namespace

const FindingText& text_of_finding(const std::string& code) {
  const auto* const at = std::find_if(kRows.begin(), kRows.end(),
                                      [&](const FindingText& row) { return code == row.code; });
  return at == kRows.end() ? kUnknown : *at;
}

std::string untested_parts(const std::vector<std::string>& codes, const Language& language) {
  std::vector<std::string_view> parts;
  std::string out;
  for (const std::string& code : codes) {
    const std::string_view part = text_of_finding(code).part;
    if (part.empty() || std::find(parts.begin(), parts.end(), part) != parts.end()) continue;
    parts.push_back(part);
    out += (out.empty() ? "" : ", ") + language.say(part);
  }
  return out;
}

}  // namespace airlatch
