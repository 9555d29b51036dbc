#include "io/spoken.hpp"

#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

namespace {

/// The nearest number of three significant digits: more would promise what no prediction can keep.
double rounded(double value) {
  if (value == 0 || !std::isfinite(value)) {
    return value;
  }
  const double unit = std::pow(10, std::floor(std::log10(std::abs(value))) - 2);
  return std::round(value / unit) * unit;
}

std::string joined(const Vector3& point, std::string (*as_text)(double)) {
  return as_text(point.x()) + ", " + as_text(point.y()) + ", " + as_text(point.z());
}

} // namespace

std::string rough_number(double value) {
  return plain_number(rounded(value));
}

std::string place_text(const Case& input, const Vector3& point) {
  std::string text = "x " + as_millimetres(point.x()) + ", y " + as_millimetres(point.y()) +
                     ", z " + as_millimetres(point.z());
  if (std::abs(input.mesh_unit - 1e-3) > 1e-12) {
    text += " (mesh: " + joined(point / input.mesh_unit, plain_number) + " " +
            input.mesh_unit_name + ")";
  }
  return text;
}

std::string letter_name(std::size_t number) {
  const std::string before = number < 26 ? "" : letter_name(number / 26 - 1);
  return before + static_cast<char>('A' + number % 26);
}

const std::string& region_name(const Case& input, RegionId region) {
  return input.problem.regions[region.position()].name;
}

std::string notes_text(const Case& input) {
  std::string text;
  for (const std::string& note : input.notes) {
    text += "Note: " + note + "\n";
  }
  return text;
}

std::string warnings_text(const std::vector<std::string>& warnings) {
  std::string text;
  for (const std::string& warning : warnings) {
    text += "Warning: " + warning + "\n";
  }
  return text;
}

std::string as_percent(double share) {
  if (!std::isfinite(share)) {
    return "unknown";
  }
  const double percent = 100 * share;
  if (percent == 0 || std::abs(percent - 100) <= 1e-7) { // full to the tolerance of the steps
    return percent == 0 ? "0 %" : "100 %";
  }
  if (percent > 0 && percent < 0.1) {
    return "under 0.1 %";
  }
  std::array<char, 400> text{};
  const bool is_near_all = percent > 99.9 && percent < 100; // what is missing is not hidden
  std::snprintf(text.data(), text.size(), is_near_all ? "%.2f %%" : "%.1f %%",
                is_near_all ? std::min(percent, 99.99) : percent);
  return text.data();
}

std::string air_caution(const FillProblem& problem) {
  return problem.sealed_air
             ? ""
             : "Air that is shut in is not computed: a place without a vent may stay dry.";
}

std::string printable(std::string_view text) {
  std::string result;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t control = text[i] == '\n' ? 0 : control_bytes(text.substr(i));
    result += control > 0 ? '?' : text[i];
    i += std::max<std::size_t>(control, 1);
  }
  return result;
}

} // namespace tidemark
