// Whether a text holds some words.
#pragma once

#include <string>

namespace tidemark {

inline bool says(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

} // namespace tidemark
