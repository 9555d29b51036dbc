#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cstdio>
#include <sstream>

namespace tidemark {

namespace {

constexpr std::size_t longest_quote = 60;

std::string lower_case(std::string_view text) {
  std::string result(text);
  std::ranges::transform(result, result.begin(), [](unsigned char letter) {
    return static_cast<char>(std::tolower(letter));
  });
  return result;
}

/// Letters to insert, remove, replace or exchange with their neighbour to get from a to b.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before_last(b.size() + 1);
  std::vector<std::size_t> last(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) {
    row[j] = j;
  }
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::swap(before_last, last);
    std::swap(last, row);
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, replaced});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        row[j] = std::min(row[j], before_last[j - 2] + 1);
      }
    }
  }
  return row[b.size()];
}

std::string escaped(unsigned char letter) {
  if (letter == '\n' || letter == '\t' || letter == '\r') {
    return letter == '\n' ? "\\n" : letter == '\t' ? "\\t" : "\\r";
  }
  std::array<char, 8> text{};
  std::snprintf(text.data(), text.size(), "\\x%02x", static_cast<unsigned>(letter));
  return text.data();
}

/// Where to cut a UTF-8 text so that no character is torn.
std::size_t cut_at(std::string_view text, std::size_t length) {
  while (length > 0 && (static_cast<unsigned char>(text[length]) & 0xC0U) == 0x80U) {
    --length;
  }
  return length;
}

} // namespace

std::string quoted_text(std::string_view text) {
  const bool is_long = text.size() > longest_quote;
  std::string result = "\"";
  for (const char letter : text.substr(0, is_long ? cut_at(text, longest_quote) : text.size())) {
    const auto code = static_cast<unsigned char>(letter);
    result += code < 0x20 || code == 0x7F ? escaped(code) : std::string(1, letter);
  }
  return result + (is_long ? "...\"" : "\"");
}

std::string counted(std::size_t count, std::string_view one, std::string_view many) {
  return std::to_string(count) + " " + std::string(count == 1 ? one : many);
}

std::string all_of(std::size_t count, std::string_view one, std::string_view many) {
  return count == 1   ? "the " + std::string(one)
         : count == 2 ? "both " + std::string(many)
                      : "all " + counted(count, one, many);
}

std::string with_capital(std::string text) {
  if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') {
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  }
  return text;
}

std::string list_of(const std::vector<std::string>& words) {
  constexpr std::size_t most = 20;
  std::string result;
  for (std::size_t i = 0; i < std::min(words.size(), most); ++i) {
    result += (i > 0 ? ", " : "") + words[i];
  }
  if (words.size() > most) {
    result += " and " + std::to_string(words.size() - most) + " more";
  }
  return words.empty() ? "none" : result;
}

std::string nearest_word(std::string_view word, const std::vector<std::string>& words) {
  if (word.size() > 2 * longest_quote) {
    return {};
  }
  const std::string wanted = lower_case(word);
  std::string nearest;
  std::size_t smallest = std::max<std::size_t>(2, word.size() / 3) + 1;
  for (const std::string& candidate : words) {
    if (candidate.size() > 3 * longest_quote) {
      continue;
    }
    const std::size_t distance = edit_distance(wanted, lower_case(candidate));
    if (distance < smallest && distance < candidate.size()) {
      smallest = distance;
      nearest = candidate;
    }
  }
  return nearest;
}

std::string list_with_nearest(std::string_view word, const std::vector<std::string>& words) {
  const std::string nearest = nearest_word(word, words);
  return list_of(words) + (nearest.empty() ? "" : " (nearest: " + nearest + ")");
}

std::string shortest(double value) {
  std::array<char, 32> text{};
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value).ptr;
  return {text.data(), end};
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) {
    lines.push_back(line);
  }
  return lines;
}

} // namespace tidemark
