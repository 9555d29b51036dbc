// A report as one page of HTML that opens from the disk in any browser, without a network: what
// stands on it as pieces, and how they are put together. The scripts of io/report/ draw pictures
// and plots from its data.
#pragma once

#include <nlohmann/json.hpp>

#include <string>
#include <vector>

namespace tidemark {

struct ReportTable {
  std::string caption;                        // may be empty
  std::vector<std::string> headings;          // may be empty
  std::vector<std::vector<std::string>> rows; // the first cell of each is its heading
};

/// Empty without rows.
std::string table_html(const ReportTable& table);

/// A table of names and values side by side, whose texts may be long.
std::string pairs_html(const ReportTable& table);

/// Figures to be seen first: name and value.
struct ReportFact {
  std::string name;
  std::string value;
};
std::string facts_html(const std::vector<ReportFact>& facts);

/// A list of sentences; empty without any.
std::string list_html(const std::vector<std::string>& sentences);

struct ReportSection {
  std::string id; // letters only
  std::string heading;
  std::string html; // left out if empty
};

/// A plot over time, for the scripts.
struct ReportLine {
  std::string label;
  std::vector<double> times;  // [s], ascending
  std::vector<double> values; // SI; NaN: none
  bool is_limit = false;
  bool is_stepped = false; // a value holds since the time before its own
};
struct ReportPlot {
  std::string title;
  std::string unit; // a kind of quantity that numbers.js knows: "flow", "pressure", "share"
  std::vector<ReportLine> lines;
};

struct ReportPage {
  std::string title;
  std::string kind;   // "Filling report"
  std::string origin; // the case file, and what made the page
  bool is_good = true;
  std::string headline;                // the verdict in one sentence
  std::string verdict;                 // HTML below it
  std::vector<ReportSection> sections; // in this order
  std::vector<ReportPlot> plots;       // where plots_html has room for them
  double end_time = 0;                 // of plots [s]
  /// Panels of pictures, where panel_html has room for them: each an array of report_view.
  std::vector<nlohmann::ordered_json> panels;
  /// Drawings other than plots over time, where chart_html has room for them; "kind" names the
  /// script that draws one.
  std::vector<nlohmann::ordered_json> charts;
};

/// Room for the panel, a chart or the plots of a page.
std::string panel_html(std::size_t panel);
std::string chart_html(std::size_t chart);
std::string plots_html(std::size_t count);

/// The page. Text within it is escaped; what is not UTF-8 becomes the replacement character.
std::string report_html(const ReportPage& page);

} // namespace tidemark
