// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/text_words.hpp"

#include <algorithm>
#include <array>
#include <span>

#include "plugin/system/utf8.hpp"

namespace airlatch {
namespace {

using Words = std::span<const std::string_view>;

// A word of the name is one of these.
constexpr std::array<std::string_view, 47> kTimeWords = {
    "time",       "times",      "timestamp",   "datetime",     "elapsed", "uptime",
    "unixtime",   "epoch",      "clock",       "zeit",         "uhrzeit", "zeitstempel",
    "zeitpunkt",  "messzeit",   "laufzeit",    "zeitachse",    "temps",   "heure",
    "horodatage", "tiempo",     "hora",        "tempo",        "ora",     "orario",
    "tijd",       "tijdstip",   "tijdstempel", "tijdstempels", "czas",    "godzina",
    "millis",     "micros",     "millisec",    "verstrichen",  "ecoule",  "transcurrido",
    "trascorso",  "verstreken", "decorrido",   "instante",     "instant", "moment",
    "stempel",    "dateheure",  "fechahora",   "datahora",     "dataora"};
// The whole name, but for a unit behind it.
constexpr std::array<std::string_view, 19> kTimeNames = {
    "t",        "ts",       "x",       "x axis",  "x value",  "x wert", "sec",
    "secs",     "second",   "seconds", "s",       "sekunden", "ms",     "us",
    "secondes", "segundos", "secondi", "sekundy", "t rel"};
constexpr std::array<std::string_view, 6> kDateWords = {"date",     "datum",     "fecha",
                                                        "datetime", "messdatum", "dateheure"};
constexpr std::array<std::string_view, 42> kIndexNames = {"index",
                                                          "idx",
                                                          "nr",
                                                          "no",
                                                          "n",
                                                          "num",
                                                          "number",
                                                          "id",
                                                          "seq",
                                                          "sequence",
                                                          "sample",
                                                          "samples",
                                                          "record",
                                                          "rec",
                                                          "row",
                                                          "scan",
                                                          "point",
                                                          "reading no",
                                                          "lfd nr",
                                                          "lfdnr",
                                                          "laufende nummer",
                                                          "messung nr",
                                                          "nummer",
                                                          "numero",
                                                          "numer",
                                                          "lp",
                                                          "l p",
                                                          "pozycja",
                                                          "volgnummer",
                                                          "indice",
                                                          "indeks",
                                                          "zeile",
                                                          "ligne",
                                                          "fila",
                                                          "riga",
                                                          "rij",
                                                          "linha",
                                                          "wiersz",
                                                          "sample no",
                                                          "sample number",
                                                          "punkt",
                                                          "entry"};
constexpr std::array<std::string_view, 46> kChannelNames = {
    "channel",     "channel name", "chan",       "kanal",      "kanalname",   "canal",
    "voie",        "canale",       "kanaal",     "signal",     "signal name", "sensor",
    "sensor name", "tag",          "variable",   "parameter",  "pid",         "source",
    "series",      "quantity",     "messgrosse", "messstelle", "grandeur",    "capteur",
    "sensore",     "grandezza",    "grootheid",  "czujnik",    "magnitud",    "item",
    "key",         "label",        "field",      "topic",      "metric",      "probe",
    "senal",       "segnale",      "signaal",    "sygnal",     "sinal",       "name",
    "grosse",      "groesse",      "input",      "ch"};
constexpr std::array<std::string_view, 22> kValueNames = {
    "value",   "values",  "wert",        "messwert", "valeur", "valor",   "valore", "waarde",
    "wartosc", "reading", "measurement", "mesure",   "medida", "misura",  "meting", "pomiar",
    "messung", "lectura", "lettura",     "result",   "val",    "medicion"};
constexpr std::array<std::string_view, 12> kUnitNames = {
    "unit",   "units", "einheit", "einheiten", "unite",     "unites",
    "unidad", "unita", "unidade", "eenheid",   "jednostka", "uom"};
constexpr std::array<std::string_view, 30> kStatistics = {
    "min",     "minimum", "max",     "maximum", "avg",        "average", "mean",   "mittelwert",
    "mittel",  "sum",     "total",   "summe",   "median",     "std",     "stdev",  "stddev",
    "std dev", "sigma",   "moyenne", "media",   "gemiddelde", "srednia", "minimo", "massimo",
    "maximo",  "count",   "anzahl",  "end",     "ende",       "rms"};

struct Phrase {
  std::string_view words;
  Stated what;
};
// Longer ones first where one begins another.
constexpr std::array<Phrase, 62> kPhrases = {{
    {"sample rate", Stated::kRate},
    {"samplerate", Stated::kRate},
    {"sampling rate", Stated::kRate},
    {"sampling frequency", Stated::kRate},
    {"sample frequency", Stated::kRate},
    {"sampling freq", Stated::kRate},
    {"sample freq", Stated::kRate},
    {"samplingrate", Stated::kRate},
    {"samples per second", Stated::kRate},
    {"scan rate", Stated::kRate},
    {"data rate", Stated::kRate},
    {"logging rate", Stated::kRate},
    {"acquisition rate", Stated::kRate},
    {"abtastrate", Stated::kRate},
    {"abtastfrequenz", Stated::kRate},
    {"messrate", Stated::kRate},
    {"messfrequenz", Stated::kRate},
    {"frequence d echantillonnage", Stated::kRate},
    {"frequence echantillonnage", Stated::kRate},
    {"frecuencia de muestreo", Stated::kRate},
    {"frequenza di campionamento", Stated::kRate},
    {"frequencia de amostragem", Stated::kRate},
    {"taxa de amostragem", Stated::kRate},
    {"bemonsteringsfrequentie", Stated::kRate},
    {"czestotliwosc probkowania", Stated::kRate},
    {"sample interval", Stated::kInterval},
    {"sampling interval", Stated::kInterval},
    {"sampling period", Stated::kInterval},
    {"sample period", Stated::kInterval},
    {"sampling time", Stated::kInterval},
    {"sample time", Stated::kInterval},
    {"samples taken every", Stated::kInterval},
    {"logging interval", Stated::kInterval},
    {"log interval", Stated::kInterval},
    {"scan interval", Stated::kInterval},
    {"measurement interval", Stated::kInterval},
    {"time interval", Stated::kInterval},
    {"time increment", Stated::kInterval},
    {"time step", Stated::kInterval},
    {"x increment", Stated::kInterval},
    {"xincrement", Stated::kInterval},
    {"xincr", Stated::kInterval},
    {"x incr", Stated::kInterval},
    {"delta x", Stated::kInterval},
    {"delta t", Stated::kInterval},
    {"abtastintervall", Stated::kInterval},
    {"messintervall", Stated::kInterval},
    {"aufzeichnungsintervall", Stated::kInterval},
    {"abtastzeit", Stated::kInterval},
    {"intervalle", Stated::kInterval},
    {"intervall", Stated::kInterval},
    {"intervalo", Stated::kInterval},
    {"intervallo", Stated::kInterval},
    {"interwal", Stated::kInterval},
    {"interval", Stated::kInterval},
    {"dt", Stated::kInterval},
    {"time unit", Stated::kTimeUnit},
    {"horizontal units", Stated::kTimeUnit},
    {"x unit", Stated::kTimeUnit},
    {"zeiteinheit", Stated::kTimeUnit},
    {"decimal separator", Stated::kDecimal},
    {"x0", Stated::kStart},
}};

constexpr std::array<std::string_view, 12> kMonths = {"jan", "feb", "mar", "apr", "may", "jun",
                                                      "jul", "aug", "sep", "oct", "nov", "dec"};
struct Month {
  std::string_view name;  // or how it begins, with three letters at least
  int number;
};
constexpr std::array<Month, 40> kOtherMonths = {
    {{"january", 1}, {"januar", 1},  {"janvier", 1}, {"enero", 1}, {"ene", 1},    {"gennaio", 1},
     {"gen", 1},     {"janeiro", 1}, {"styczen", 1}, {"sty", 1},   {"lut", 2},    {"fev", 2},
     {"maerz", 3},   {"mrz", 3},     {"maart", 3},   {"mrt", 3},   {"marzec", 3}, {"abr", 4},
     {"avr", 4},     {"kwi", 4},     {"mai", 5},     {"mei", 5},   {"mag", 5},    {"maj", 5},
     {"giu", 6},     {"juin", 6},    {"cze", 6},     {"juil", 7},  {"lug", 7},    {"lip", 7},
     {"aou", 8},     {"ago", 8},     {"sie", 8},     {"set", 9},   {"wrz", 9},    {"okt", 10},
     {"ott", 10},    {"out", 10},    {"paz", 10},    {"lis", 11}}};
constexpr std::array<Month, 5> kDecembers = {
    {{"dez", 12}, {"dic", 12}, {"gru", 12}, {"des", 12}, {"decembre", 12}}};

constexpr std::array<std::string_view, 28> kWeekdays = {
    "mon", "tue", "wed", "thu", "fri", "sat", "sun", "mo",  "di",  "mi",
    "do",  "fr",  "sa",  "so",  "lun", "mar", "mer", "jeu", "ven", "sam",
    "dim", "mie", "jue", "vie", "sab", "dom", "gio", "tues"};

bool is_one_of(std::string_view text, Words words) {
  return std::find(words.begin(), words.end(), text) != words.end();
}

bool has_one_of(const std::string& name, Words words) {
  for (std::size_t at = 0; at < name.size();) {
    const std::size_t end = std::min(name.find(' ', at), name.size());
    if (is_one_of(std::string_view(name).substr(at, end - at), words)) return true;
    at = end + 1;
  }
  return false;
}

// A letter without its accent; others as they are; 0: a mark between words.
std::string_view bare(char32_t code) {
  struct Range {
    char32_t from, to;
    std::string_view letter;
  };
  static constexpr std::array<Range, 34> kRanges = {
      {{0xB2, 0xB2, "2"},   {0xB5, 0xB5, "u"},   {0x3BC, 0x3BC, "u"}, {0xC0, 0xC3, "a"},
       {0xC4, 0xC4, "a"},   {0xC5, 0xC5, "a"},   {0xC6, 0xC6, "ae"},  {0xC7, 0xC7, "c"},
       {0xC8, 0xCB, "e"},   {0xCC, 0xCF, "i"},   {0xD1, 0xD1, "n"},   {0xD2, 0xD6, "o"},
       {0xD8, 0xD8, "o"},   {0xD9, 0xDC, "u"},   {0xDD, 0xDD, "y"},   {0xDF, 0xDF, "ss"},
       {0xE0, 0xE5, "a"},   {0xE6, 0xE6, "ae"},  {0xE7, 0xE7, "c"},   {0xE8, 0xEB, "e"},
       {0xEC, 0xEF, "i"},   {0xF1, 0xF1, "n"},   {0xF2, 0xF6, "o"},   {0xF8, 0xF8, "o"},
       {0xF9, 0xFC, "u"},   {0xFD, 0xFF, "y"},   {0x104, 0x105, "a"}, {0x106, 0x107, "c"},
       {0x118, 0x119, "e"}, {0x141, 0x142, "l"}, {0x143, 0x144, "n"}, {0x15A, 0x15B, "s"},
       {0x179, 0x17C, "z"}, {0x150, 0x151, "o"}}};
  for (const Range& range : kRanges)
    if (code >= range.from && code <= range.to) return range.letter;
  return {};
}

}  // namespace

std::string as_utf8(std::string_view text) {
  if (is_utf8(text)) return std::string(text);
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80) {
      out += c;
    } else {
      out += static_cast<char>(0xC0 | byte >> 6);
      out += static_cast<char>(0x80 | (byte & 0x3F));
    }
  }
  return out;
}

std::string folded(std::string_view name) {
  const std::string text = as_utf8(name);
  std::string out;
  bool lower_before = false;
  for (std::string_view left = text; !left.empty();) {
    const Character c = front_character(left);
    const auto ascii = c.code < 0x80 ? static_cast<char>(c.code) : '\0';
    const bool upper = ascii >= 'A' && ascii <= 'Z';
    const bool plain = upper || (ascii >= 'a' && ascii <= 'z') || (ascii >= '0' && ascii <= '9');
    const std::string_view letter = c.code < 0x80 ? std::string_view() : bare(c.code);
    if (upper && lower_before && !out.empty() && out.back() != ' ') out += ' ';
    if (plain)
      out += upper ? static_cast<char>(ascii + ('a' - 'A')) : ascii;
    else if (!letter.empty())
      out += letter;
    else if (c.code >= 0x80)
      out += left.substr(0, c.length);
    else if (!out.empty() && out.back() != ' ')
      out += ' ';
    lower_before = ascii >= 'a' && ascii <= 'z';
    left.remove_prefix(c.length);
  }
  while (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

bool means(const std::string& name, Meaning meaning) {
  switch (meaning) {
    case Meaning::kTime:
      return is_one_of(name, kTimeNames) || has_one_of(name, kTimeWords);
    case Meaning::kDate:
      return has_one_of(name, kDateWords);
    case Meaning::kIndex:
      return is_one_of(name, kIndexNames);
    case Meaning::kChannel:
      return is_one_of(name, kChannelNames);
    case Meaning::kValue:
      return is_one_of(name, kValueNames);
    case Meaning::kUnit:
      return is_one_of(name, kUnitNames);
    case Meaning::kStatistic:
      break;
  }
  const std::string_view first = std::string_view(name).substr(0, name.find(' '));
  return is_one_of(name, kStatistics) || is_one_of(first, kStatistics);
}

std::optional<StatedAt> stated_in(const std::string& line) {
  for (const Phrase& phrase : kPhrases) {
    const std::size_t at = line.find(phrase.words);
    if (at == std::string::npos) continue;
    const std::size_t end = at + phrase.words.size();
    const bool begins = at == 0 || line[at - 1] == ' ',
               ends = end == line.size() || line[end] == ' ';
    if (begins && ends) return StatedAt{phrase.what, end};
  }
  return std::nullopt;
}

std::optional<int> month_of(std::string_view word) {
  if (word.size() < 3) return std::nullopt;
  for (const Month& month : kOtherMonths)
    if (word.starts_with(month.name)) return month.number;
  for (const Month& month : kDecembers)
    if (word.starts_with(month.name)) return month.number;
  for (std::size_t k = 0; k < kMonths.size(); ++k)
    if (word.starts_with(kMonths[k])) return static_cast<int>(k) + 1;
  return std::nullopt;
}

bool is_weekday(std::string_view word) {
  if (is_one_of(word, kWeekdays)) return true;
  return word.size() > 3 && (word.ends_with("day") || word.ends_with("tag"));
}

}  // namespace airlatch
