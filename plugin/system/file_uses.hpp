// SPDX-License-Identifier: GPL-3.0-or-later
// file_uses.hpp: the files that a command reads and those that it writes, so that nothing is
// written onto what is read, nor two outputs onto each other.
//
// How   files are the same by device and inode, through any link; those that are not there yet by
//       their folder and name. Checked before the first of them is opened.
#pragma once
#include <string>
#include <vector>

namespace airlatch {

// Where a file is found in the end: symbolic links of its last part followed, though their target
// may not be there.
std::string followed(const std::string& path);

class FileUses {
 public:
  // `what`: the option or operand that names it. "-" is standard input or output; an empty path is
  // none.
  void reads(const std::string& what, const std::string& path);
  void writes(const std::string& what, const std::string& path);
  void writes_standard_output();  // where no option has named it
  // Throws InputError (kCannotCreate), which names both.
  void check() const;

 private:
  struct Use {
    std::string what, path;
  };
  std::vector<Use> inputs_, outputs_;
};

}  // namespace airlatch
