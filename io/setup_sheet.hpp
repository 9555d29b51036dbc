// What stands on the sheet for the operator of the injector: words in shop units, no layout. The
// writers sheet_markdown and sheet_html lay the same sheet out.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"
#include "solver/permeability_band.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// A value beside its label, or a blank to fill by hand.
struct SheetLine {
  std::string label;
  std::optional<std::string> value; // none: a blank
  std::string unit = {};            // of the blank
  std::string note = {};            // why it is blank, or what more there is to say
};

/// What is done or seen at a moment; beside it stays room for the time read.
struct SheetEvent {
  std::string when;
  std::string band; // of when; empty if there is none
  std::string what;
};

struct SheetCell {
  std::string text;
  std::string band; // empty if there is none
};

struct SheetTable {
  std::vector<std::string> headings; // one for each cell of a row
  std::vector<std::vector<SheetCell>> rows;
};

struct SetupSheet {
  std::string title;
  std::string origin;                 // the case file, and what made the sheet
  std::vector<SheetLine> day;         // of the day and the shot, to be filled by hand
  std::vector<std::string> forbidden; // why it must not be injected as set; empty: nothing found
  std::vector<std::string> attention;
  std::vector<SheetLine> settings;
  std::vector<SheetLine> quantities; // the rest is empty where injection is forbidden
  std::vector<SheetEvent> order;
  SheetTable course;
  std::string band; // how the bands came about
  std::vector<std::string> watch, stop, abort, flush;
  std::vector<std::string> cautions; // always there
};

/// The sheet of a filling. Precondition: result is a filling of input.problem, and band holds the
/// same with other permeabilities.
SetupSheet setup_sheet(const Case& input, const FillResult& result, const PermeabilityBand& band);

/// "3:20 to 5:10 min", the unit once if both have the same; empty if both read the same.
std::string range_text(const std::string& from, const std::string& to);

/// Line breaks as blanks, and all but the first letters, at most so many, as an ellipsis. Text is
/// UTF-8.
std::string shortened(std::string_view text, std::size_t letters);

} // namespace tidemark
