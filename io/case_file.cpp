#include "io/case_file.hpp"
#include "io/channel_fineness.hpp"

#include "io/case_check.hpp"
#include "io/case_syntax.hpp"
#include "io/fabric_file.hpp"
#include "io/facing_check.hpp"
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
#include "mesh/surface_distance.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <optional>

namespace tidemark {

namespace {

/// A file that the case names and that cannot be read: "found "x.msh", expected a mesh file: ...".
void add_unread(const Given<std::string>& file, const char* key, const char* expected,
                const std::string& why, Findings& unread) {
  add_error(unread, file.line, key,
            "found " + quoted_text(file.value) + ", expected " + expected + ": " + why);
}

/// The mesh; none if the case does not say which, or with its reader's findings if it has any.
std::optional<MeshFile> read_mesh_of(const RawCase& raw, const std::filesystem::path& file,
                                     Findings& findings, Findings& unread) {
  if (!raw.mesh || !raw.mesh_unit) {
    return std::nullopt;
  }
  try {
    return read_mesh(file, raw.mesh_unit->value);
  } catch (const InputError& error) {
    for (const std::string& finding : error.findings()) {
      add_error(findings, raw.mesh->line, "part.mesh", finding);
    }
  } catch (const FileError& error) {
    add_unread(*raw.mesh, "part.mesh", "a mesh file", error.what(), unread);
  }
  return std::nullopt;
}

/// Files that cannot be read are a FileError unless there is more to say about the case.
void report_unread(const Findings& unread, Findings& findings) {
  if (findings.errors.empty() && !unread.errors.empty()) {
    throw FileError(InputError(texts_of(unread.errors)).what());
  }
  findings.errors.insert(findings.errors.end(), unread.errors.begin(), unread.errors.end());
}

void add_mesh_findings(const ShellMesh& mesh, const std::string& mesh_file, int line,
                       Findings& findings) {
  for (const MeshFinding& finding : check_mesh(mesh)) {
    const auto add = finding.is_error ? add_error : add_warning;
    add(findings, line, "part.mesh", mesh_file + ": " + finding.text);
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

/// Few elements on the way of the resin are a warning, not many a note. Any gate may be open, so
/// all count.
void tell_of_coarse_mesh(const FillProblem& problem, const RawCase& raw, Findings& findings,
                         std::vector<std::string>& notes) {
  constexpr std::size_t few = 10; // own choice: the front is then known to some 10 % of the way
  constexpr std::size_t not_many = 20;
  std::vector<NodeId> fed;
  for (const Gate& gate : problem.gates) {
    fed.insert(fed.end(), gate.nodes.begin(), gate.nodes.end());
  }
  const std::size_t on_way = elements_on_longest_way(problem.mesh, fed);
  const std::string found =
      counted(on_way, "element", "elements") + " along the longest way of the resin from a gate";
  if (on_way < few) {
    add_warning(findings, raw.mesh->line, "part.mesh",
                "found " + found + ", so that times and pressures are rough; expected " +
                    std::to_string(not_many) + " at least, better 100");
  } else if (on_way < not_many) {
    notes.push_back("The mesh has " + found + ": times and pressures are rough; 100 are better.");
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
  Findings unread{findings.file, {}, {}, findings.last_line, findings.edit};
  if (raw.fabrics_file) {
    result.fabrics_file = file.parent_path() / raw.fabrics_file->value;
    if (const auto why = add_shared_fabrics(raw, *result.fabrics_file, tried, findings)) {
      add_unread(*raw.fabrics_file, "fabrics", "a file of fabrics", *why, unread);
    }
  }
  check_values(raw, findings);
  result.mesh_file = file.parent_path() / (raw.mesh ? raw.mesh->value : "");
  std::optional<MeshFile> mesh = read_mesh_of(raw, result.mesh_file, findings, unread);
  if (mesh) {
    result.notes = std::move(mesh->notes);
    add_mesh_findings(mesh->mesh, result.mesh_file.string(), raw.mesh->line, findings);
    result.problem = build_problem(raw, std::move(mesh->mesh), findings);
  }
  report_unread(unread, findings);
  throw_if_errors(findings);
  for (std::string& note : facing_notes(raw, result.problem)) {
    result.notes.push_back(std::move(note));
  }
  for (std::string& note : channel_notes(result.problem, raw.runners.size())) {
    result.notes.push_back(std::move(note));
  }
  warn_of_pieces_without_gate(result.problem, raw, findings);
  tell_of_coarse_mesh(result.problem, raw, findings, result.notes);
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
