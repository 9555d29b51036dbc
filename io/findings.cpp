#include "io/findings.hpp"

#include "mesh/error.hpp"

#include <algorithm>

namespace tidemark {

namespace {

Finding located(const Findings& findings, int line, std::string_view key, std::string_view text) {
  std::string whole = findings.file;
  whole += line > findings.last_line ? " with " + findings.edit : ":" + std::to_string(line);
  whole += ": ";
  whole.append(key).append(": ").append(text);
  return {line, whole};
}

} // namespace

void add_error(Findings& findings, int line, std::string_view key, std::string_view text) {
  findings.errors.push_back(located(findings, line, key, text));
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
  if (!findings.errors.empty()) {
    throw InputError(texts_of(findings.errors));
  }
}

} // namespace tidemark
