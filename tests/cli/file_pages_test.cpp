// SPDX-License-Identifier: GPL-3.0-or-later
// The manual pages of the files a user writes, against the messages they describe
// (proto/airlatch/v1): every field and value, no other, and examples that the program takes.
#include <gtest/gtest.h>

#include <map>
#include <regex>
#include <set>

#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

struct Field {
  std::string name, type;
  bool repeated = false;
  bool operator==(const Field&) const = default;
};
using Fields = std::vector<Field>;

// Messages by their name ("Rig", "Channel") and enums by theirs, in the schema's order. As text: the
// schema is what users are promised, whatever the program makes of it.
struct Schema {
  std::map<std::string, Fields> messages;
  std::map<std::string, std::vector<std::string>> enums;
};

Schema read_schema() {
  Schema schema;
  for (const char* file : {"event.proto", "setup.proto"}) {
    std::istringstream in(read_file(std::string(AIRLATCH_SOURCE_DIR "/proto/airlatch/v1/") + file));
    std::vector<std::string> open;  // the messages and enums around this line
    for (std::string line; std::getline(in, line);) {
      line = line.substr(0, line.find("//"));
      std::smatch m;
      if (std::regex_search(line, m, std::regex(R"(^\s*(message|enum) (\w+) \{)"))) {
        open.push_back(m[2]);
        if (m[1] == "message") schema.messages[m[2]];
      } else if (line.find('}') != std::string::npos) {
        open.pop_back();
      } else if (std::regex_search(
                     line, m, std::regex(R"(^\s*(optional |repeated )?([\w.]+) (\w+) = \d+)"))) {
        schema.messages.at(open.back()).push_back({m[3], m[2], m[1] == "repeated "});
      } else if (std::regex_search(line, m, std::regex(R"(^\s*(\w+) = (\d+);)"))) {
        schema.enums[open.back()].push_back(m[1]);
      }
    }
  }
  return schema;
}

// A page: by ".SS NAME" what stands in bold at the head of each entry, and each entry's example.
struct Entry {
  std::vector<std::string> names;
  std::string text, example;
};
struct Page {
  std::map<std::string, std::vector<Entry>> sections;
  std::string example;  // the whole file
};

Page read_page(const std::string& name) {
  Page page;
  std::istringstream in(read_file(AIRLATCH_SOURCE_DIR "/plugin/host/man/airlatch-" + name + ".5"));
  std::string section;
  bool head = false, whole = false;
  for (std::string line; std::getline(in, line);) {
    line = std::regex_replace(line, std::regex(R"(\\-)"), "-");
    if (line == ".EX" || line == ".EE") {
      whole = line == ".EX";
    } else if (whole) {
      page.example += line + "\n";
    } else if (line.starts_with(".SH")) {
      section.clear();
    } else if (line.starts_with(".SS ")) {
      section = line.substr(4);
      page.sections[section];
    } else if (line == ".TP") {
      head = true;
      page.sections[section].emplace_back();
    } else if (!section.empty() && !page.sections[section].empty()) {
      Entry& entry = page.sections[section].back();
      const std::regex bold(R"(\\fB(.*?)\\fR)");
      if (head)
        for (std::sregex_iterator m(line.begin(), line.end(), bold), end; m != end; ++m)
          entry.names.push_back((*m)[1]);
      else if (std::smatch m; line.starts_with("Example: ") && std::regex_search(line, m, bold))
        entry.example = m[1];
      entry.text += line + "\n";
      head = false;
    }
  }
  return page;
}

std::vector<std::string> names_in(const std::vector<Entry>& entries) {
  std::vector<std::string> names;
  for (const Entry& entry : entries)
    names.insert(names.end(), entry.names.begin(), entry.names.end());
  return names;
}

// All examples of a message's section, those of its nested messages' sections in braces.
std::string all_examples(const Schema& schema, const Page& page, const std::string& message,
                         const std::string& section) {
  std::string text;
  const auto& fields = schema.messages.at(message);
  for (const Entry& entry : page.sections.at(section)) {
    std::string all;
    bool once = false;  // a message that may be given once: with all its fields
    for (const Field& field : fields)
      if (field.name == entry.names.at(0) && schema.messages.contains(field.type)) {
        all = field.name + " { " + all_examples(schema, page, field.type, field.name) + "}\n";
        once = !field.repeated;
      }
    text += (once ? "" : entry.example + "\n") + all;
  }
  return text;
}

void expect_described(const Schema& schema, const Page& page, const std::string& message,
                      const std::string& section, std::set<std::string>& seen) {
  ASSERT_TRUE(page.sections.contains(section)) << section;
  seen.insert(section);
  std::multiset<std::string> fields, described;
  for (const Field& field : schema.messages.at(message)) fields.insert(field.name);
  for (const Entry& entry : page.sections.at(section)) {
    ASSERT_EQ(entry.names.size(), 1u) << section;
    const std::string& name = entry.names[0];
    described.insert(name);
    EXPECT_TRUE(entry.example.starts_with(name + ": ") || entry.example.starts_with(name + " { "))
        << section << " " << name << ": " << entry.example;
    EXPECT_TRUE(entry.text.find("Default: ") != std::string::npos ||
                entry.text.find("must be given") != std::string::npos ||
                entry.text.find("should be given") != std::string::npos ||
                entry.text.find("fields are below") != std::string::npos)
        << section << " " << name << " has no default";
  }
  EXPECT_EQ(described, fields) << section;
  for (const Field& field : schema.messages.at(message))
    if (schema.messages.contains(field.type))
      expect_described(schema, page, field.type, field.name, seen);
}

void expect_values(const Schema& schema, const Page& page, const std::string& name,
                   const std::string& section, std::set<std::string>& seen) {
  std::vector<std::string> values = schema.enums.at(name);
  values.erase(values.begin());  // 0 is "not given"
  EXPECT_EQ(names_in(page.sections.at(section)), values);
  seen.insert(section);
}

std::set<std::string> titles(const Page& page) {
  std::set<std::string> all;
  for (const auto& [title, entries] : page.sections) all.insert(title);
  return all;
}

std::string capture(const std::string& name) {
  return read_file(AIRLATCH_SOURCE_DIR "/captures/" + name);
}

TEST(FilePages, TheSchemaIsReadWhole) {
  const Schema schema = read_schema();
  EXPECT_EQ(schema.messages.at("Limit"),
            (Fields{{"measure", "string"}, {"min", "double"}, {"max", "double"}}));
  EXPECT_EQ(schema.enums.at("Phase"),
            (std::vector<std::string>{"PHASE_UNSPECIFIED", "BEFORE", "AFTER"}));
  EXPECT_GE(schema.messages.at("Channel").size(), 10u);
}

TEST(FilePages, RigHasEveryFieldAndRole) {
  const Schema schema = read_schema();
  const Page page = read_page("rig");
  std::set<std::string> seen;
  expect_described(schema, page, "Rig", "Rig", seen);
  expect_values(schema, page, "Role", "Roles", seen);
  EXPECT_EQ(titles(page), seen);
}

TEST(FilePages, PlanHasEveryFieldAndKind) {
  const Schema schema = read_schema();
  const Page page = read_page("plan");
  std::set<std::string> seen;
  expect_described(schema, page, "Plan", "Plan", seen);
  expect_values(schema, page, "Kind", "Kinds", seen);
  EXPECT_EQ(titles(page), seen);
}

TEST(FilePages, JobHasEveryFieldAndPhase) {
  const Schema schema = read_schema();
  const Page page = read_page("job");
  std::set<std::string> seen;
  expect_described(schema, page, "Job", "Job", seen);
  expect_values(schema, page, "Phase", "Phases", seen);
  EXPECT_EQ(titles(page), seen);
}

TEST(FilePages, ExamplesOfRigsAndPlansAreTaken) {
  const Schema schema = read_schema();
  const Page rig = read_page("rig"), plan = read_page("plan");
  const Folder folder;
  const std::string file = AIRLATCH_SOURCE_DIR "/captures/motor-seized.sr";
  for (const std::string& text : {rig.example, all_examples(schema, rig, "Rig", "Rig")}) {
    const Ran ran = run({"replay", file, "--rig", folder.write("rig", text)});
    EXPECT_EQ(ran.status, 0) << text << ran.err;
  }
  for (const std::string& text : {plan.example, all_examples(schema, plan, "Plan", "Plan")}) {
    const Ran ran = run({"replay", file, "--plan", folder.write("plan", text)});
    EXPECT_EQ(ran.status, 0) << text << ran.err;
  }
  const Ran refused = run({"replay", file, "--rig", folder.write("rig", rig.example + "x: 1")});
  EXPECT_EQ(refused.status, 65);
}

TEST(FilePages, ExamplesOfJobsAreTaken) {
  const Schema schema = read_schema();
  const Page job = read_page("job");
  const Folder folder;
  for (const char* name : {"before.sr", "before-left-rear-closed.sr", "after.sr"})
    folder.write(name, capture("motor-seized.sr"));
  folder.write("bench.rig", read_page("rig").example);
  const auto expect_taken = [&](const std::string& text, const std::string& plan) {
    const std::string file = folder.write("job", text), report = folder.at("report");
    const Ran ran = run({"report", file, "--plan", plan, "--report", report});
    EXPECT_EQ(ran.status, 0) << text << ran.err;
  };
  expect_taken(job.example, "branch-isolation");
  expect_taken(all_examples(schema, job, "Job", "Job"), "bench-pump");
}

}  // namespace
}  // namespace airlatch
