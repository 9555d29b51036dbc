// A process window on the terminal, and its pieces, which stand on the page too.
#pragma once

#include "io/text_table.hpp"
#include "io/window_facts.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// The map, how it was computed, the setting in the middle with its margins, the caps for some fill
/// times, and cautions, in shop units.
std::string window_text(const WindowFacts& facts);

/// Of the text: what was tried; how it was computed; how well borders are known; what holds the
/// mould shut. Whole lines, or nothing.
std::string window_range_text(const WindowFacts& facts);
std::string window_how_text(const WindowFacts& facts);
std::string window_tolerance_text(const WindowFacts& facts);
std::string window_mould_text(const WindowFacts& facts);

/// "At 25 degC (temperature): viscosity 180 mPa.s", without a line feed; empty without a third
/// axis.
std::string window_value_text(const WindowFacts& facts, const WindowOfValue& window);

/// The setting in the middle with its margins, its full run, and the case as it is set; a line for
/// each sentence.
std::string window_choice_text(const WindowFacts& facts, const WindowOfValue& window);

/// How far the recommended setting may be moved: "up to 0.54 bar (+108 %; above: opens the mould)".
/// Precondition: there is one.
struct WindowMargins {
  std::string flow_down, flow_up, cap_down, cap_up;
};
WindowMargins window_margins(const WindowMap& map);

/// At most nine points of each axis, highest cap first, with a row of headings: minutes to fill, or
/// map_word.
std::vector<TextRow> window_map_rows(const WindowMap& map);

/// The flow rate that fills the part in some times, for each cap; empty if there is none.
std::vector<TextRow> window_time_rows(const WindowMap& map);
std::string window_times_heading(const WindowMap& map);

} // namespace tidemark
