#include "small_case.hpp"

#include "io/case_check.hpp"
#include "io/raw_case.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <utility>

namespace tidemark::small_case {

ShellMesh small_plate() {
  ShellMesh mesh;
  for (int i = 0; i < 12; ++i) {
    mesh.positions.push_back(Vector3(0.01 * (i % 4), 0.01 * (i / 4), 0));
    mesh.node_labels.push_back(101 + i);
  }
  for (int column = 0; column < 3; ++column) {
    for (int row = 0; row < 2; ++row) {
      const int a = 4 * row + column;
      mesh.elements.push_back({{NodeId(a), NodeId(a + 1), NodeId(a + 5), NodeId()}});
      mesh.elements.push_back({{NodeId(a), NodeId(a + 5), NodeId(a + 4), NodeId()}});
    }
  }
  for (int i = 0; i < 12; ++i) {
    mesh.element_labels.push_back(201 + i);
  }
  ElementSet skin{"skin", {}};
  ElementSet core{"core", {}};
  for (int i = 0; i < 12; ++i) {
    (i < 4 ? skin : core).elements.push_back(ElementId(i));
  }
  mesh.element_sets = {skin, core, {"overlap", {ElementId(0), ElementId(4)}}};
  mesh.line_sets = {{"edge", {{NodeId(0), NodeId(4)}, {NodeId(4), NodeId(8)}}}};
  mesh.node_sets = {{"port", {NodeId(7)}}};
  return mesh;
}

Outcome outcome_of(const std::string& text, const ShellMesh& mesh) {
  Findings findings{"case.toml", {}, {}};
  const RawCase raw = parse_case(text, findings);
  check_values(raw, findings);
  FillProblem problem = build_problem(raw, mesh, findings);
  return {std::move(problem), texts_of(findings.errors), texts_of(findings.warnings),
          used_values(raw)};
}

Outcome outcome_of(const std::string& text) {
  return outcome_of(text, small_plate());
}

std::string error_of(const std::string& text) {
  const Outcome outcome = outcome_of(text);
  CHECK(outcome.errors.size() == 1);
  return outcome.errors.empty() ? "" : outcome.errors.front();
}

UsedValue value_of(const Outcome& outcome, const std::string& key) {
  for (const UsedValue& value : outcome.values) {
    if (value.key == key) {
      return value;
    }
  }
  return {"", "", false};
}

bool is_near(double value, double expected) {
  return std::abs(value / expected - 1) < 1e-12;
}

} // namespace tidemark::small_case
