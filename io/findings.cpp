#include "io/findings.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <utility>

namespace tidemark {

namespace {

Finding located(const Findings& findings, int line, std::string_view key, std::string_view text) {
  std::string whole = findings.file;
  whole += line > findings.last_line ? " with " + findings.edit : ":" + std::to_string(line);
  whole += ": ";
  whole.append(key).append(": ").append(text);
  return {line, whole, false};
}

} // namespace

void add_error(Findings& findings, int line, std::string_view key, std::string_view text) {
  findings.errors.push_back(located(findings, line, key, text));
}

void add_unfilled(Findings& findings, int line, std::string_view key, std::string_view expected) {
  findings.errors.push_back(
      located(findings, line, key, "still \"?\", expected " + std::string(expected)));
  findings.errors.back().is_unfilled = true;
}

void add_warning(Findings& findings, int line, std::string_view key, std::string_view text) {
  findings.warnings.push_back(located(findings, line, key, text));
}

std::vector<std::string> texts_of(std::vector<Finding> findings) {
  std::ranges::stable_sort(findings, {}, &Finding::line);
  std::vector<std::string> texts;
  for (Finding& finding : findings) {
    texts.push_back(std::move(finding.text));
  }
  return texts;
}

void throw_if_errors(const Findings& findings) {
  if (findings.errors.empty()) {
    return;
  }
  std::vector<Finding> ordered = findings.errors;
  std::ranges::stable_sort(ordered, {}, [](const Finding& finding) {
    return std::pair(finding.is_unfilled, finding.line);
  });
  const auto unfilled = std::ranges::count(ordered, true, &Finding::is_unfilled);
  std::vector<std::string> texts;
  for (Finding& finding : ordered) {
    texts.push_back(std::move(finding.text));
  }
  throw InputError(texts, static_cast<std::size_t>(unfilled));
}

} // namespace tidemark
