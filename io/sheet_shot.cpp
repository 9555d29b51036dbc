#include "io/sheet_shot.hpp"

#include "solver/mould_load.hpp"

namespace tidemark {

std::string name_of(const std::string& name) {
  return shortened(name, longest_name);
}

std::vector<const FillResult*> full_results(const Shot& shot) {
  std::vector<const FillResult*> results{&shot.result};
  for (const auto* other : {&shot.band.tighter, &shot.band.more_open}) {
    if (*other && (*other)->verdict == Verdict::filled) {
      results.push_back(&**other);
    }
  }
  return results;
}

std::vector<const FillResult*> fillings_of(const Shot& shot) {
  std::vector<const FillResult*> results{&shot.result};
  for (const auto* other : {&shot.band.tighter, &shot.band.more_open}) {
    if (*other) {
      results.push_back(&**other);
    }
  }
  return results;
}

std::string in_brackets(const std::string& band) {
  return band.empty() ? "" : " (" + band + ")";
}

std::optional<std::string> given_text(const Case& input, const std::string& key) {
  for (const UsedValue& value : input.values) {
    if (value.key == key && value.given) {
      return value.value.substr(0, value.value.find(" ("));
    }
  }
  return std::nullopt;
}

std::string range_text(const std::string& from, const std::string& to) {
  if (from == to) {
    return "";
  }
  const std::size_t unit = from.rfind(' ');
  const bool is_common = unit != std::string::npos && to.ends_with(from.substr(unit));
  return (is_common ? from.substr(0, unit) : from) + " to " + to;
}

std::string shortened(std::string_view text, std::size_t letters) {
  std::string result;
  std::size_t count = 0;
  for (const char c : text) {
    const bool begins = (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; // a letter of UTF-8
    if (begins && count++ == letters) {
      return result + "…";
    }
    const bool is_break = (c >= 0 && c < ' ') || c == 0x7f;
    result += is_break ? ' ' : c;
  }
  return result;
}

} // namespace tidemark
