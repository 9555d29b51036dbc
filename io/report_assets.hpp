// The pieces of the HTML reports that are not made from a run: style, scripts, libraries. Their
// sources lie in io/report/; the build puts them into the program.
#pragma once

#include <string_view>

namespace tidemark::report_assets {

extern const std::string_view three;          // three.js: pictures in space
extern const std::string_view orbit_controls; // of three.js: turning them
extern const std::string_view d3;             // D3: plots
extern const std::string_view licences;       // of these
extern const std::string_view style;          // page.css
extern const std::string_view numbers;        // numbers.js and so on
extern const std::string_view marks;
extern const std::string_view view;
extern const std::string_view panel;
extern const std::string_view plots;
extern const std::string_view window_map;
extern const std::string_view spread;
extern const std::string_view page;

} // namespace tidemark::report_assets
