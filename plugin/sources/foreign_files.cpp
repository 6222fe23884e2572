// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/foreign_files.hpp"

#include <algorithm>
#include <array>

namespace airlatch {
namespace {

using namespace std::string_view_literals;

constexpr const char* kExport = "export it as CSV";
constexpr const char* kSave = "open it in the program that made it and save the table as CSV";
constexpr const char* kUnpack = "unpack it first";
constexpr const char* kPicture = "hand over the samples it was drawn from, as CSV";

struct Row {
  std::size_t at;
  std::string_view bytes;
  ForeignFile file;
};
constexpr std::array kRows = {
    Row{0, "PAR1", {"a Parquet file", kExport}},
    Row{0, "ARROW1", {"an Arrow file", kExport}},
    Row{0, "\xff\xff\xff\xff\x10\0\0\0"sv, {"an Arrow stream", kExport}},
    Row{0, "FEA1", {"a Feather file", kExport}},
    Row{0, "TDSm", {"a TDMS file", kExport}},
    Row{0, "TDSh", {"the index of a TDMS file", "export the TDMS file itself as CSV"}},
    Row{0, "MDF     ", {"an MDF measurement file", "export it as CSV or MAT"}},
    Row{0, "UnFinMF", {"an MDF measurement file that was not finished", "export it as CSV or MAT"}},
    Row{0, "CDF\x01", {"a netCDF file of the classic format", "convert it to netCDF 4, or to CSV"}},
    Row{0, "CDF\x02", {"a netCDF file of the classic format", "convert it to netCDF 4, or to CSV"}},
    Row{0, "CDF\x05", {"a netCDF file of the classic format", "convert it to netCDF 4, or to CSV"}},
    Row{0, "SQLite format 3\0"sv, {"an SQLite database", "export its table as CSV"}},
    Row{0, "%PDF-", {"a PDF document", kPicture}},
    Row{0, "\x89PNG\r\n\x1a\n", {"a picture (PNG)", kPicture}},
    Row{0, "\xff\xd8\xff", {"a picture (JPEG)", kPicture}},
    Row{0, "GIF8", {"a picture (GIF)", kPicture}},
    Row{0, "II*\0"sv, {"a picture (TIFF)", kPicture}},
    Row{0, "MM\0*"sv, {"a picture (TIFF)", kPicture}},
    Row{8, "WEBP", {"a picture (WebP)", kPicture}},
    Row{0,
        "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        {"a workbook or document of an old office format", kSave}},
    Row{0,
        "\xfd"
        "7zXZ\0"sv,
        {"packed with xz", kUnpack}},
    Row{0, "(\xb5/\xfd", {"packed with zstd", kUnpack}},
    Row{4, "1AY&SY", {"packed with bzip2", kUnpack}},
    Row{0, "\x04\x22\x4d\x18", {"packed with lz4", kUnpack}},
    Row{0, "7z\xbc\xaf\x27\x1c", {"a 7z archive", kUnpack}},
    Row{0, "Rar!\x1a\x07", {"a RAR archive", kUnpack}},
    Row{257, "ustar", {"a tar archive", kUnpack}},
    Row{0, "fLaC", {"a FLAC sound file", "convert it to WAV"}},
    Row{0,
        "OggS",
        {"an Ogg sound file",
         "convert the original to WAV: packed sound has lost the "
         "samples"}},
    Row{0, "ID3", {"an MP3 sound file", "record it as WAV: packed sound has lost the samples"}},
    Row{0,
        "\x7f"
        "ELF",
        {"a program", "name a capture"}},
    Row{0, "{\\rtf", {"a formatted text document", kSave}},
};

// The name of a zip's first entry (APPNOTE 6.3, 4.3.7).
std::string_view zip_entry(std::string_view head) {
  if (!head.starts_with("PK\x03\x04") || head.size() < 30) return {};
  const std::size_t size = static_cast<unsigned char>(head[26]) |
                           static_cast<std::size_t>(static_cast<unsigned char>(head[27])) << 8;
  return head.substr(30, size);
}

std::optional<ForeignFile> foreign_zip(std::string_view head) {
  const std::string_view first = zip_entry(head);
  if (first == "[Content_Types].xml" || first.starts_with("xl/") || first.starts_with("_rels/") ||
      first.starts_with("docProps/"))
    return ForeignFile{"a spreadsheet or office document", "save its sheet as CSV"};
  if (first == "mimetype" || first == "content.xml")
    return ForeignFile{"a spreadsheet or office document", "save its sheet as CSV"};
  return std::nullopt;
}

}  // namespace

std::optional<ForeignFile> foreign_file(std::string_view head) {
  // Words with which a text may begin, too, as a column's name.
  const bool binary = std::any_of(head.begin(), head.end(), [](char c) { return c >= 0 && c < 9; });
  if (!binary && !head.starts_with("%PDF-") && !head.starts_with("{\\rtf")) return std::nullopt;
  const auto* const row = std::find_if(kRows.begin(), kRows.end(), [&](const Row& one) {
    return head.size() > one.at && head.substr(one.at).starts_with(one.bytes);
  });
  if (row != kRows.end()) return row->file;
  return foreign_zip(head);
}

bool zip_begins_with_an_array(std::string_view head) { return zip_entry(head).ends_with(".npy"); }

}  // namespace airlatch
