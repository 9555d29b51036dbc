#include "io/fabric_file.hpp"

#include "io/case_syntax.hpp"
#include "io/fabric_value_check.hpp"
#include "io/text_file.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>

namespace tidemark {

namespace {

void apply_tried(const TriedFabrics& tried, const std::vector<RawFabric>& of_case,
                 const std::string& text, toml::table& toml, Findings& findings) {
  std::vector<std::string> names;
  for (const RawFabric& fabric : of_case) {
    names.push_back(fabric.name);
  }
  apply_to_fabrics(*tried.edit, tried.changes, names, line_count(text), toml, findings);
}

std::vector<RawFabric> parse_fabrics(const std::string& text, const TriedFabrics& tried,
                                     const std::vector<RawFabric>& of_case, Findings& findings) {
  toml::table toml = parse_toml(text, findings);
  if (tried.edit != nullptr) {
    apply_tried(tried, of_case, text, toml, findings);
  }
  const TomlTable document{&toml, "", 1, &findings};
  refuse_unknown_keys(document, {"title", "fabric"}, "fabrics");
  read_text(document, "title", "one line of text");
  require(document, "fabric", "one table [fabric.NAME] or more");
  return checked_fabrics(document);
}

/// A name of the case goes before none of the file: which one is meant must not be guessed.
void refuse_double(const RawCase& raw, const std::vector<RawFabric>& shared, Findings& findings) {
  for (const RawFabric& own : raw.fabrics) {
    const auto same = std::ranges::find(shared, own.name, &RawFabric::name);
    if (same != shared.end()) {
      add_error(findings, own.line, own.key,
                "found the name " + quoted_text(own.name) + " here and in line " +
                    std::to_string(same->line) + " of " + quoted_text(raw.fabrics_file->value) +
                    ", expected a name of its own");
    }
  }
}

/// Said where the case names the file, in the order of its lines.
void take_findings(Findings shared, int line, Findings& findings) {
  std::ranges::stable_sort(shared.errors, {}, &Finding::line);
  for (Finding& finding : shared.errors) {
    findings.errors.push_back({line, std::move(finding.text), finding.is_unfilled});
  }
  for (std::string& text : texts_of(std::move(shared.warnings))) {
    findings.warnings.push_back({line, std::move(text)});
  }
}

} // namespace

std::optional<std::string> add_shared_fabrics(RawCase& raw, const std::filesystem::path& file,
                                              const TriedFabrics& tried, Findings& findings) {
  const int line = raw.fabrics_file->line;
  Findings of_file{file.string(), {}, {}};
  raw.has_all_fabrics = false;
  try {
    std::vector<RawFabric> shared =
        parse_fabrics(text_of_file(file, "a file of fabrics"), tried, raw.fabrics, of_file);
    refuse_double(raw, shared, findings);
    for (RawFabric& fabric : shared) {
      fabric.is_shared = true;
      raw.fabrics.push_back(std::move(fabric));
    }
    raw.has_all_fabrics = true;
  } catch (const InputError& error) {
    for (const std::string& text : error.findings()) {
      findings.errors.push_back({line, text});
    }
  } catch (const FileError& error) {
    return error.what();
  }
  take_findings(std::move(of_file), line, findings);
  return std::nullopt;
}

} // namespace tidemark
