// What a person does with a report, and sees.
#pragma once

#include "tests/support/browser.hpp"
#include "tests/support/says.hpp"

#include <string>

namespace tidemark {

/// Middle of the first element that a selector finds, after scrolling it into view.
struct Point {
  double x;
  double y;
};
Point middle_of(Browser& browser, const std::string& selector);

/// A picture of the part, by its number on the page, as red, green and blue of every 4th pixel of
/// every 4th line, from what is on its canvas.
nlohmann::json picture(Browser& browser, int number = 0);

/// Pixels with a hue: those of the map of values. What is dry, and the background, is grey.
double coloured(const nlohmann::json& pixels);

/// 0 to 1000, of the first slider for the time.
void set_slider(Browser& browser, int value);

/// Contour lines, marks and mesh are black, or have hues of their own.
void leave_only_colours(Browser& browser);

std::string text_of(Browser& browser, const std::string& selector);

/// The number that stands after some words.
double number_after(const std::string& text, const std::string& words);

/// What axe-core finds against the rules of level A and AA on a light screen, then on a dark one.
std::string faults_for_people(Browser& browser);

/// "prefers-color-scheme" from now on.
void set_scheme(Browser& browser, const std::string& scheme);

} // namespace tidemark
