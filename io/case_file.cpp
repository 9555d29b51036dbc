#include "io/case_file.hpp"

#include "io/case_check.hpp"
#include "io/case_syntax.hpp"
#include "io/fabric_file.hpp"
#include "io/findings.hpp"
#include "io/laid_stack.hpp"
#include "io/layup_check.hpp"
#include "io/mesh_pieces.hpp"
#include "io/mesh_reader.hpp"
#include "io/raw_case.hpp"
#include "io/raw_lookup.hpp"
#include "io/resin_value_check.hpp"
#include "io/scatter_value_check.hpp"
#include "io/text_file.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "mesh/mesh_check.hpp"
#include "solver/element_permeability.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <optional>

namespace tidemark {

namespace {

/// The mesh; none if the case does not say which, or with its reader's findings if it has any. A
/// mesh file that cannot be opened is a FileError unless there is more to say about the case.
std::optional<MeshFile> read_mesh_of(const RawCase& raw, const std::filesystem::path& file,
                                     Findings& findings) {
  if (!raw.mesh || !raw.mesh_unit) {
    return std::nullopt;
  }
  try {
    return read_mesh(file, raw.mesh_unit->value);
  } catch (const InputError& error) {
    for (const std::string& finding : error.findings()) {
      findings.errors.push_back({raw.mesh->line, finding});
    }
  } catch (const FileError& error) {
    if (findings.errors.empty()) {
      throw;
    }
    add_error(findings, raw.mesh->line, "part.mesh", error.what());
  }
  return std::nullopt;
}

/// A file that cannot be opened is a FileError unless there is more to say about the case.
void report_unread_fabrics(const RawCase& raw, const std::string& text, Findings& findings) {
  if (findings.errors.empty()) {
    throw FileError(text);
  }
  add_error(findings, raw.fabrics_file->line, "fabrics", text);
}

void add_mesh_findings(const ShellMesh& mesh, const std::string& mesh_file, int line,
                       Findings& findings) {
  for (const MeshFinding& finding : check_mesh(mesh)) {
    std::vector<Finding>& list = finding.is_error ? findings.errors : findings.warnings;
    list.push_back({line, mesh_file + ": " + finding.text});
  }
}

std::string position_text(const Vector3& position, double unit, const std::string& unit_name) {
  std::array<char, 120> text{};
  std::snprintf(text.data(), text.size(), "[%.6g, %.6g, %.6g] %s", position.x() / unit,
                position.y() / unit, position.z() / unit, unit_name.substr(0, 40).c_str());
  return text.data();
}

/// One warning each, up to the tenth piece; then how many more there are.
void warn_of_pieces_without_gate(const FillProblem& problem, const RawCase& raw,
                                 Findings& findings) {
  constexpr std::size_t most = 10;
  std::size_t count = 0;
  for (const MeshPiece& piece : mesh_pieces(problem)) {
    if (piece.has_gate || ++count > most) {
      continue;
    }
    add_warning(findings, raw.mesh->line, "part.mesh",
                "found a separate piece of " + std::to_string(piece.nodes) +
                    " nodes without a gate, near " +
                    position_text(problem.mesh.positions[piece.first], raw.mesh_unit->value,
                                  raw.mesh_unit->text) +
                    ": resin cannot reach it");
  }
  if (count > most) {
    add_warning(findings, raw.mesh->line, "part.mesh",
                "found " + std::to_string(count - most) + " more pieces without a gate");
  }
}

/// [currency/m3]; none without a price.
std::optional<double> resin_price_per_volume(const RawCase& raw) {
  if (!raw.resin.price) {
    return std::nullopt;
  }
  const Price& price = raw.resin.price->value;
  return price.per == Dimension::mass ? price.amount * raw.resin.density->value : price.amount;
}

/// The projection of each region's direction, for its errors only.
void check_directions(const FillProblem& problem, const std::string& file) {
  try {
    direction_1(problem);
  } catch (const InputError& error) {
    std::vector<std::string> texts;
    for (const std::string& finding : error.findings()) {
      texts.push_back(file + ": " + finding);
    }
    throw InputError(texts);
  }
}

MachineFacts machine_facts(const RawCase& raw) {
  if (!raw.injector) {
    return {};
  }
  const RawInjector& injector = *raw.injector;
  return {value_or_none(injector.stroke_volume), value_or_none(injector.max_flow_rate),
          value_or_none(injector.max_pressure), value_or_none(injector.pressure_ratio),
          value_or_none(injector.air_pressure)};
}

} // namespace

Case read_case(const std::filesystem::path& file, const CaseEdit* edit) {
  Findings findings{file.string(), {}, {}};
  const std::string text = text_of_file(file, "a case file");
  toml::table document = parse_toml(text, findings);
  TriedFabrics tried{edit};
  if (edit != nullptr) {
    tried.changes = apply_edit(*edit, line_count(text), document, findings);
  }
  RawCase raw = read_document(document, findings);
  Case result{};
  result.file = file;
  std::optional<std::string> unread_fabrics;
  if (raw.fabrics_file) {
    result.fabrics_file = file.parent_path() / raw.fabrics_file->value;
    unread_fabrics = add_shared_fabrics(raw, *result.fabrics_file, tried, findings);
  }
  check_values(raw, findings);
  result.mesh_file = file.parent_path() / (raw.mesh ? raw.mesh->value : "");
  std::optional<MeshFile> mesh = read_mesh_of(raw, result.mesh_file, findings);
  if (mesh) {
    result.notes = std::move(mesh->notes);
    add_mesh_findings(mesh->mesh, result.mesh_file.string(), raw.mesh->line, findings);
    result.problem = build_problem(raw, std::move(mesh->mesh), findings);
  }
  if (unread_fabrics) {
    report_unread_fabrics(raw, *unread_fabrics, findings);
  }
  throw_if_errors(findings);
  check_directions(result.problem, findings.file);
  warn_of_pieces_without_gate(result.problem, raw, findings);
  result.layups = laid_regions(raw, result.problem);
  warn_of_closing_force(result.problem, raw, findings);
  result.title = raw.title ? raw.title->value : file.stem().string();
  result.mesh_unit = raw.mesh_unit->value;
  result.mesh_unit_name = raw.mesh_unit->text;
  result.resin = make_resin_facts(raw);
  result.machine = machine_facts(raw);
  result.scatter = make_scatter_facts(raw, result.problem);
  result.highest_temperature =
      raw.heat ? value_or_none(raw.heat->highest_temperature) : std::nullopt;
  result.time_limit = raw.time_limit ? std::optional(raw.time_limit->value) : std::nullopt;
  result.currency = raw.currency ? raw.currency->value : "";
  result.resin_price = resin_price_per_volume(raw);
  result.values = used_values(raw);
  if (edit != nullptr) {
    result.values.push_back({"--try", edit->text, true});
  }
  result.warnings = texts_of(findings.warnings);
  return result;
}

} // namespace tidemark
