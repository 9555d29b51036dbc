// Values of a case that are tried in place of those written: "thin: region.skin.thickness = 3 mm".
#pragma once

#include "io/findings.hpp"

#include <toml++/toml.h>

#include <string>
#include <vector>

namespace tidemark {

/// One key and what it becomes.
struct Change {
  std::vector<std::string> path; // "region", "skin", "thickness"
  std::string value;             // as TOML; empty: the key is taken out
};

/// Changes that are made together.
struct CaseEdit {
  std::string text;  // as it was given
  std::string label; // what stands before the colon; empty without one
  std::vector<Change> changes;
};

/// Reads "LABEL: KEY = VALUE; KEY = VALUE", the label optional. A key is a path with dots, its
/// parts in quotes where they hold anything but letters, digits, blanks, _ and -. A value is one of
/// TOML; what TOML does not know and no bracket or quote begins is a text ("3 mm" without quotes),
/// and the word none takes the key out. Throws InputError (--try "...": found ..., expected ...).
CaseEdit parse_edit(const std::string& text);

/// The key of a change in messages: "region.skin.thickness".
std::string key_of(const Change& change);

/// Makes the changes in the document of a case. Tables of a list are found by their names or
/// numbers. What is wrong goes to the findings, whose last line and edit are set here: the values
/// stand, as it were, on lines after the last of the file. Returns the changes of fabrics that the
/// document does not hold itself and a file of fabrics may.
std::vector<Change> apply_edit(const CaseEdit& edit, std::size_t lines_of_file,
                               toml::table& document, Findings& findings);

/// Makes changes of fabrics in a file of them. own_names: the fabrics of the case itself.
void apply_to_fabrics(const CaseEdit& edit, const std::vector<Change>& changes,
                      const std::vector<std::string>& own_names, std::size_t lines_of_file,
                      toml::table& document, Findings& findings);

} // namespace tidemark
