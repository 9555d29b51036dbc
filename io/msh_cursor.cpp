#include "io/msh_cursor.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
#include <utility>

namespace tidemark {

namespace {

bool is_blank(char c) {
  return c == ' ' || c == '\t' || c == '\r';
}
bool is_space(char c) {
  return is_blank(c) || c == '\n';
}

std::string_view without_plus(std::string_view text) {
  return text.size() > 1 && text[0] == '+' && text[1] != '-' ? text.substr(1) : text;
}

} // namespace

std::string in_quotes(std::string_view text) {
  constexpr std::size_t longest = 40;
  std::string result(text.substr(0, longest));
  std::ranges::replace_if(
      result, [](unsigned char c) { return c < 0x20 || c >= 0x7f; }, '?');
  return "\"" + result + (text.size() > longest ? "...\"" : "\"");
}

MshCursor::MshCursor(std::string_view content, std::string file_name)
    : content_(content), file_name_(std::move(file_name)) {}

void MshCursor::set_binary(bool swapped) {
  binary_ = true;
  swapped_ = swapped;
}

void MshCursor::fail(const std::string& text) const {
  const std::size_t at = std::min(value_start_, content_.size());
  const auto lines = std::ranges::count(content_.substr(0, at), '\n');
  const std::string place =
      binary_ ? "byte " + std::to_string(at) : "line " + std::to_string(lines + 1);
  const std::string context = context_noun_ == nullptr
                                  ? ""
                                  : " (" + std::string(context_noun_) + " " +
                                        std::to_string(context_number_) + " of " +
                                        std::to_string(context_count_) + ")";
  throw InputError(file_name_ + ": " + place + ": " + text + context);
}

bool MshCursor::at_end() {
  while (position_ < content_.size() && is_space(content_[position_])) {
    ++position_;
  }
  value_start_ = position_;
  return position_ == content_.size();
}

void MshCursor::skip_blanks() {
  while (position_ < content_.size() && is_blank(content_[position_])) {
    ++position_;
  }
  value_start_ = position_;
}

std::string_view MshCursor::token(std::string_view what) {
  skip_blanks();
  if (position_ == content_.size()) {
    fail("the file ends where " + std::string(what) + " is expected");
  }
  if (content_[position_] == '\n') {
    fail("the line ends where " + std::string(what) + " is expected");
  }
  while (position_ < content_.size() && !is_space(content_[position_])) {
    ++position_;
  }
  return content_.substr(value_start_, position_ - value_start_);
}

std::string_view MshCursor::word(std::string_view what) {
  at_end();
  return token(what);
}

std::string_view MshCursor::rest_of_line() {
  skip_blanks();
  const std::size_t end = std::min(content_.find('\n', position_), content_.size());
  std::string_view line = content_.substr(position_, end - position_);
  position_ = std::min(end + 1, content_.size());
  while (!line.empty() && is_blank(line.back())) {
    line.remove_suffix(1);
  }
  return line;
}

void MshCursor::end_text_line() {
  const std::string_view rest = rest_of_line();
  if (!rest.empty()) {
    fail("the line should end here, but " + in_quotes(rest) + " follows");
  }
}

bool MshCursor::skip_past(std::string_view text) {
  const std::size_t found = content_.find(text, position_);
  if (found == std::string_view::npos) {
    return false;
  }
  position_ = found + text.size();
  value_start_ = position_;
  return true;
}

std::string_view MshCursor::bytes(std::size_t count, std::string_view what) {
  value_start_ = position_;
  if (content_.size() - position_ < count) {
    fail("the file ends where " + std::string(what) + " is expected");
  }
  position_ += count;
  return content_.substr(value_start_, count);
}

void MshCursor::begin_record() {
  if (!binary_) {
    at_end();
  }
}

void MshCursor::end_record() {
  if (!binary_) {
    end_text_line();
  }
}

template <class T> T MshCursor::raw(std::string_view what) {
  std::array<char, sizeof(T)> value;
  std::ranges::copy(bytes(sizeof(T), what), value.begin());
  if (swapped_) {
    std::ranges::reverse(value);
  }
  return std::bit_cast<T>(value);
}

std::int64_t MshCursor::parsed_integer(std::string_view what, std::int64_t lowest,
                                       std::int64_t highest) {
  const std::string_view text = token(what);
  const std::string_view digits = without_plus(text);
  std::int64_t value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  const bool whole = error != std::errc::invalid_argument && end == digits.data() + digits.size();
  if (!whole) {
    fail(std::string(what) + " is expected, found " + in_quotes(text));
  }
  if (error == std::errc::result_out_of_range || value < lowest || value > highest) {
    fail(std::string(what) + " is out of range: " + in_quotes(text));
  }
  return value;
}

std::int64_t MshCursor::text_integer(std::string_view what) {
  return parsed_integer(what, std::numeric_limits<std::int32_t>::min(),
                        std::numeric_limits<std::int32_t>::max());
}

std::int64_t MshCursor::integer(std::string_view what) {
  return binary_ ? raw<std::int32_t>(what) : text_integer(what);
}

std::int64_t MshCursor::size(std::string_view what) {
  if (!binary_) {
    return parsed_integer(what, 0, std::numeric_limits<std::int64_t>::max());
  }
  const auto value = raw<std::uint64_t>(what);
  if (value > static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max())) {
    fail(std::string(what) + " is out of range: " + std::to_string(value));
  }
  return static_cast<std::int64_t>(value);
}

double MshCursor::any_real(std::string_view what) {
  double value = 0;
  std::string_view text;
  if (binary_) {
    value = raw<double>(what);
  } else {
    text = token(what);
    const std::string_view digits = without_plus(text);
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (error == std::errc::invalid_argument || end != digits.data() + digits.size()) {
      fail(std::string(what) + " is expected, found " + in_quotes(text));
    }
    // from_chars leaves the value alone both where it is too large and where it is nearly zero.
    if (error == std::errc::result_out_of_range) {
      fail(std::string(what) + " is out of range: " + in_quotes(text));
    }
  }
  return value;
}

double MshCursor::real(std::string_view what) {
  const double value = any_real(what);
  if (!std::isfinite(value)) {
    fail(std::string(what) + " is not a finite number");
  }
  return value;
}

void MshCursor::skip_reals(std::size_t count, std::string_view what) {
  for (std::size_t i = 0; i < count; ++i) {
    if (binary_) {
      bytes(sizeof(double), what);
    } else {
      token(what);
    }
  }
}

std::size_t MshCursor::checked_count(std::int64_t count, std::size_t numbers_each,
                                     std::size_t bytes_each, std::string_view what) const {
  if (count < 0) {
    fail("the number of " + std::string(what) + " is negative: " + std::to_string(count));
  }
  // In ASCII a number takes at least a digit and a separator; the last separator may be missing.
  const std::size_t left = content_.size() - position_;
  const std::size_t fit = binary_ ? left / bytes_each : (left + 1) / (2 * numbers_each);
  if (static_cast<std::uint64_t>(count) > fit) {
    fail("the file says " + std::to_string(count) + " " + std::string(what) +
         " but is too short to hold them");
  }
  if (count > std::numeric_limits<std::int32_t>::max()) {
    fail(std::to_string(count) + " " + std::string(what) + " are more than can be handled");
  }
  return static_cast<std::size_t>(count);
}

} // namespace tidemark
