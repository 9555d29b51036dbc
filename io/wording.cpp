#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cstdio>
#include <iterator>
#include <optional>
#include <sstream>
#include <utility>

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

unsigned code_of(char letter) {
  return static_cast<unsigned char>(letter);
}

/// A control character as TOML writes it.
std::string escaped(std::string_view control) {
  const unsigned first = code_of(control[0]);
  if (first == '\n' || first == '\t' || first == '\r') {
    return first == '\n' ? "\\n" : first == '\t' ? "\\t" : "\\r";
  }
  std::array<char, 8> text{};
  if (control.size() == 1) {
    std::snprintf(text.data(), text.size(), "\\x%02x", first);
  } else {
    unsigned code = control.size() == 2 ? first & 0x1FU : first & 0xFU;
    for (const char letter : control.substr(1)) {
      code = code << 6U | (code_of(letter) & 0x3FU);
    }
    std::snprintf(text.data(), text.size(), "\\u%04x", code & 0xFFFFU);
  }
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

std::size_t control_bytes(std::string_view text) {
  const auto code = [&](std::size_t i) { return i < text.size() ? code_of(text[i]) : 0U; };
  const auto lies = [](unsigned value, unsigned low, unsigned high) {
    return value >= low && value <= high;
  };
  if (!text.empty() && (code(0) < 0x20 || code(0) == 0x7F)) {
    return 1;
  }
  if (code(0) == 0xC2 && lies(code(1), 0x80, 0x9F)) {
    return 2;
  }
  const bool is_mark = code(0) == 0xE2 && ((code(1) == 0x80 && lies(code(2), 0xA8, 0xAE)) ||
                                           (code(1) == 0x81 && lies(code(2), 0xA6, 0xA9)));
  return is_mark ? 3 : 0;
}

std::string quoted_text(std::string_view text) {
  const bool is_long = text.size() > longest_quote;
  const std::string_view shown =
      text.substr(0, is_long ? cut_at(text, longest_quote) : text.size());
  std::string result = "\"";
  for (std::size_t i = 0; i < shown.size();) {
    const std::size_t control = control_bytes(shown.substr(i));
    result += control > 0 ? escaped(shown.substr(i, control)) : std::string(1, shown[i]);
    i += std::max<std::size_t>(control, 1);
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

namespace {

constexpr std::size_t longest_compared = 150;
constexpr std::size_t most_nearest = 3; // more alike would tell nothing

/// "pressure" and "cap" of "pressure_cap".
std::vector<std::string> parts_of(const std::string& word) {
  std::vector<std::string> parts(1);
  for (const char letter : word) {
    const bool is_between = letter == '_' || letter == '-' || letter == '.' || letter == ' ';
    if (is_between) {
      parts.emplace_back();
    } else {
      parts.back() += letter;
    }
  }
  return parts;
}

/// What two words have in common part by part.
struct CommonParts {
  std::size_t letters = 0; // of those that both have
  bool begins = false;     // both begin with one of them
  std::string rest, other_rest;
};

CommonParts common_parts(const std::string& word, const std::string& other) {
  constexpr std::size_t least_letters = 3; // "at" and "to" tell nothing
  CommonParts common;
  std::vector<std::string> left = parts_of(other);
  for (const std::string& part : parts_of(word)) {
    const auto same = std::ranges::find(left, part);
    if (part.size() < least_letters || same == left.end()) {
      common.rest += part;
      continue;
    }
    common.letters += part.size();
    common.begins = common.begins || (word.starts_with(part) && other.starts_with(part));
    left.erase(same);
  }
  for (const std::string& part : left) {
    common.other_rest += part;
  }
  return common;
}

/// Letters by which the words differ, if so few that one may be the other mistyped: apart from
/// whole parts that are the same, so that pressure_limit is not taken for pressure_ratio.
std::optional<std::size_t> typing_distance(const std::string& word, const std::string& other) {
  const auto most = [](const std::string& text) {
    return std::max<std::size_t>(2, text.size() / 3);
  };
  const std::size_t distance = edit_distance(word, other);
  const CommonParts common = common_parts(word, other);
  const bool is_near =
      distance <= most(word) && distance < other.size() &&
      (common.letters == 0 || edit_distance(common.rest, common.other_rest) <= most(common.rest));
  return is_near ? std::optional(distance) : std::nullopt;
}

/// The words of which rank(word) is least, if they are few; those without a rank are none of them.
template <class Rank>
std::vector<std::string> first_in_rank(const std::vector<std::string>& words, Rank rank) {
  std::vector<std::string> first;
  decltype(rank(std::string())) least;
  for (const std::string& word : words) {
    const auto own = rank(word);
    if (!own || (least && *least < *own)) {
      continue;
    }
    if (!least || *own < *least) {
      first.clear();
      least = own;
    }
    first.push_back(word);
  }
  return first.size() > most_nearest ? std::vector<std::string>{} : first;
}

} // namespace

std::vector<std::string> mistyped_words(std::string_view word,
                                        const std::vector<std::string>& words) {
  if (word.size() > longest_compared) {
    return {};
  }
  return first_in_rank(words, [wanted = lower_case(word)](const std::string& candidate) {
    return candidate.size() > longest_compared ? std::nullopt
                                               : typing_distance(wanted, lower_case(candidate));
  });
}

std::vector<std::string> nearest_words(std::string_view word,
                                       const std::vector<std::string>& words) {
  const std::vector<std::string> mistyped = mistyped_words(word, words);
  if (!mistyped.empty() || word.size() > longest_compared) {
    return mistyped;
  }
  using Rank = std::optional<std::pair<bool, std::size_t>>;
  return first_in_rank(words, [wanted = lower_case(word)](const std::string& candidate) -> Rank {
    if (candidate.size() > longest_compared) {
      return std::nullopt;
    }
    const CommonParts common = common_parts(wanted, lower_case(candidate));
    return common.letters > 0 ? Rank(std::pair(!common.begins, longest_compared - common.letters))
                              : std::nullopt;
  });
}

std::string enumeration(const std::vector<std::string>& words, std::string_view last_link) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    text += i == 0 ? "" : i + 1 < words.size() ? ", " : last_link;
    text += words[i];
  }
  return text;
}

std::string one_of(const std::vector<std::string>& words) {
  return enumeration(words, " or ");
}

std::string list_with_nearest(std::string_view word, const std::vector<std::string>& words) {
  const std::vector<std::string> nearest = mistyped_words(word, words);
  return list_of(words) + (nearest.empty() ? "" : " (nearest: " + one_of(nearest) + ")");
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
